// Package bean picks the beans: which lots a day uses, how many packs to pull and when, and what is too young, too old or
// too little.
package bean

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Lot is one bag or batch of bags with a roast date. Dates are midnights of their day in any one zone.
type Lot struct {
	Code      string
	RoastedOn time.Time
	Grams     float64 // all that is left, the open pack included
	OpenG     float64 // of it, what is in an open pack
	Freezer   bool
	FrozenOn  time.Time // zero: not known; days in the freezer then count
}

// Rules are the coffee's.
type Rules struct {
	RestMinDays, RestMaxDays float64 // on the day of use, both included
	ThawH                    float64
	PackG                    float64 // 0: sold loose, pulled to the gram
	GrinderLossPct           float64 // below 100
}

// Need is the coffee dosed on one day, batches and drinks made to order together, before grinder loss.
type Need struct {
	Date    time.Time // the service day's midnight
	G       float64
	UseFrom time.Time // the first use
}

// Pick is what one lot gives to one day.
type Pick struct {
	Lot     string
	UseG    float64 // of it used that day, grinder loss included
	PulledG float64 // taken out of store for it: whole packs; 0 when an open pack has enough
	OpenG   float64 // of UseG, out of packs that were open already
	Freezer bool
	PullBy  time.Time // UseFrom, for freezer lots less the thaw
	UseFrom time.Time
}

// Reason says why beans that are there, or are not, do not serve a day.
type Reason string

// The reasons.
const (
	TooFew   Reason = "too_few"   // there are none
	TooYoung Reason = "too_young" // rested too little on the day
	TooOld   Reason = "too_old"
	ThawLate Reason = "thaw_late" // in the freezer, and too late to thaw before the first use
)

// Short is an amount that a day lacks, or would have but for the rule named.
type Short struct {
	Reason Reason
	Lot    string    // empty for TooFew
	G      float64   // of the lot, what stands idle, at most what the day lacks; for TooFew the lack that no lot explains
	Usable time.Time // TooYoung: the first day it serves; TooOld: the last day it did; ThawLate: the moment it is thawed if pulled now
}

// Day is the answer for one Need.
type Day struct {
	Need   Need
	TakeG  float64 // G/(1 − grinder loss)
	Picks  []Pick
	LackG  float64 // of TakeG, not covered
	Shorts []Short
}

// Rest is the days a lot has rested on the day: since roasting, days in the freezer not counted.
func (l Lot) Rest(on time.Time) int {
	until := on
	if l.Freezer && !l.FrozenOn.IsZero() && l.FrozenOn.Before(on) {
		until = l.FrozenOn
	}
	return days(l.RoastedOn, until)
}

// days counts calendar days; a day of 23 or 25 hours is one.
func days(from, to time.Time) int {
	return int(math.Round(to.Sub(from).Hours() / 24))
}

// WithLoss is what the grinder must be given, g, for doseG g in the basket.
func (r Rules) WithLoss(doseG float64) float64 { return doseG / (1 - r.GrinderLossPct/100) }

// Plan serves the needs in their order from the lots: what is left of an open pack first, then the oldest roast among the
// lots within the rest window on the day of use, whole packs pulled. now bounds the thawing: a freezer lot that cannot
// thaw between now and the first use is passed over. The lots are not changed.
func Plan(lots []Lot, r Rules, needs []Need, now time.Time) []Day {
	store := make([]*stock, 0, len(lots))
	for _, l := range lots {
		open := min(l.OpenG, l.Grams)
		store = append(store, &stock{lot: l, open: open, sealed: l.Grams - open})
	}
	slices.SortStableFunc(store, func(a, b *stock) int {
		return cmp.Or(a.lot.RoastedOn.Compare(b.lot.RoastedOn), cmp.Compare(a.lot.Code, b.lot.Code))
	})
	out := make([]Day, 0, len(needs))
	for _, n := range needs {
		out = append(out, serve(store, r, n, now))
	}
	return out
}

type stock struct {
	lot          Lot
	open, sealed float64
}

func serve(store []*stock, r Rules, n Need, now time.Time) Day {
	d := Day{Need: n, TakeG: r.WithLoss(n.G)}
	left := d.TakeG
	picks := map[*stock]*Pick{}
	take := func(s *stock, open bool) {
		if left <= 0 || !s.fits(r, n) {
			return
		}
		if open {
			if g := min(s.open, left); g > 0 {
				p := s.pick(picks, r, n)
				p.UseG, p.OpenG = p.UseG+g, p.OpenG+g
				s.open -= g
				left -= g
			}
			return
		}
		if s.sealed <= 0 || s.tooLate(r, n, now) {
			return
		}
		pulled := s.packs(left, r.PackG)
		p := s.pick(picks, r, n)
		g := min(pulled, left)
		p.UseG, p.PulledG = p.UseG+g, p.PulledG+pulled
		s.sealed -= pulled
		s.open += pulled - g
		left -= g
	}
	for _, s := range store {
		take(s, true)
	}
	for _, s := range store {
		take(s, false)
	}
	for _, s := range store {
		if p := picks[s]; p != nil {
			d.Picks = append(d.Picks, *p)
		}
	}
	if left > 1e-9 {
		d.LackG = left
		d.Shorts = explain(store, r, n, now, left)
	}
	return d
}

func (s *stock) pick(picks map[*stock]*Pick, r Rules, n Need) *Pick {
	if picks[s] == nil {
		picks[s] = &Pick{Lot: s.lot.Code, Freezer: s.lot.Freezer, UseFrom: n.UseFrom, PullBy: PullBy(n.UseFrom, s.lot.Freezer, r.ThawH)}
	}
	return picks[s]
}

// PullBy is the latest moment to take a pack out so that it can be used at useFrom.
func PullBy(useFrom time.Time, freezer bool, thawH float64) time.Time {
	if !freezer {
		return useFrom
	}
	return useFrom.Add(-time.Duration(thawH * float64(time.Hour)))
}

func (s *stock) fits(r Rules, n Need) bool {
	rest := float64(s.lot.Rest(n.Date))
	return rest >= r.RestMinDays && rest <= r.RestMaxDays
}

func (s *stock) tooLate(r Rules, n Need, now time.Time) bool {
	return s.lot.Freezer && PullBy(n.UseFrom, true, r.ThawH).Before(now)
}

// packs is the whole packs, g, that cover left g, or all that is sealed.
func (s *stock) packs(left, packG float64) float64 {
	if packG <= 0 {
		return min(left, s.sealed)
	}
	return min(math.Ceil(left/packG-1e-9)*packG, s.sealed)
}

func explain(store []*stock, r Rules, n Need, now time.Time, lack float64) []Short {
	var out []Short
	rest := lack
	for _, s := range store {
		idle := min(s.open+s.sealed, lack)
		if idle <= 0 {
			continue
		}
		x := Short{Lot: s.lot.Code, G: idle}
		switch age := float64(s.lot.Rest(n.Date)); {
		case age < r.RestMinDays:
			x.Reason = TooYoung
			x.Usable = n.Date.AddDate(0, 0, int(math.Ceil(r.RestMinDays-age)))
		case age > r.RestMaxDays:
			x.Reason = TooOld
			x.Usable = n.Date.AddDate(0, 0, int(math.Floor(r.RestMaxDays-age)))
		case s.tooLate(r, n, now):
			x.Reason = ThawLate
			x.Usable = now.Add(time.Duration(r.ThawH * float64(time.Hour)))
		default:
			continue
		}
		out = append(out, x)
		rest -= idle
	}
	if rest > 1e-9 {
		out = append(out, Short{Reason: TooFew, G: rest})
	}
	return out
}
