// Package bean allocates coffee lots to days of use: which lots, how many whole bags to take out and when, and why coffee is
// missing.
package bean

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Lot is a roast lot in stock. Dates are midnights, all in one time zone.
type Lot struct {
	Code      string
	RoastedOn time.Time
	Grams     float64 // in stock, the open bag included
	OpenG     float64 // of that, in an open bag
	Freezer   bool
	FrozenOn  time.Time // zero: unknown; days in the freezer then count as rest
}

// Rules are those of one coffee.
type Rules struct {
	RestMinDays, RestMaxDays float64 // on the day of use, inclusive
	ThawH                    float64
	PackG                    float64 // bag size; 0: loose, taken out to the gram
	GrinderLossPct           float64 // below 100
}

// Need is the coffee dosed on one day, for batches and drinks made to order, before grinder loss.
type Need struct {
	Date    time.Time // midnight of the service day
	G       float64
	UseFrom time.Time // first use
}

// Pick is the allocation of one lot to one day.
type Pick struct {
	Lot     string
	UseG    float64 // used that day, grinder loss included
	PulledG float64 // taken out of store, in whole bags; 0 if an open bag has enough
	OpenG   float64 // part of UseG from bags already open
	Freezer bool
	PullBy  time.Time // latest time to take it out: UseFrom, less the thaw for freezer lots
	UseFrom time.Time
}

// Reason is the reason for a shortfall.
type Reason string

// The reasons.
const (
	TooFew   Reason = "too_few"   // not in stock
	TooYoung Reason = "too_young" // not rested enough on the day of use
	TooOld   Reason = "too_old"
	ThawLate Reason = "thaw_late" // in the freezer, and cannot thaw before the first use
)

// Shortfall is a part of a day's shortfall, with its reason.
type Shortfall struct {
	Reason Reason
	Lot    string    // empty for TooFew
	G      float64   // unusable stock of the lot, at most the day's shortfall; for TooFew the rest of the shortfall
	Usable time.Time // TooYoung: first usable day; TooOld: last usable day; ThawLate: when it is thawed if taken out now
}

// Day is the allocation for one Need.
type Day struct {
	Need       Need
	TakeG      float64 // including grinder loss: G/(1 − loss)
	Picks      []Pick
	ShortfallG float64 // part of TakeG that is not covered
	Shortfalls []Shortfall
}

// rest is the lot's rest on a day, in days since roasting, without those in the freezer.
func (l Lot) rest(on time.Time) int {
	until := on
	if l.Freezer && !l.FrozenOn.IsZero() && l.FrozenOn.Before(on) {
		until = l.FrozenOn
	}
	return days(l.RoastedOn, until)
}

// days counts calendar days, including those of 23 or 25 hours.
func days(from, to time.Time) int {
	return int(math.Round(to.Sub(from).Hours() / 24))
}

// WithLoss is the coffee, g, to grind for a dose of doseG g.
func (r Rules) WithLoss(doseG float64) float64 { return doseG / (1 - r.GrinderLossPct/100) }

// Plan allocates lots to the needs, in order: open bags first, then whole bags of the oldest roast among the lots within the
// rest window on the day of use. Freezer lots that cannot thaw between now and the first use are skipped. lots is not modified.
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
		if left <= 0 || !s.inRestWindow(r, n) {
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
		if s.sealed <= 0 || s.thawsTooLate(r, n, now) {
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
		d.ShortfallG = left
		d.Shortfalls = shortfalls(store, r, n, now, left)
	}
	return d
}

func (s *stock) pick(picks map[*stock]*Pick, r Rules, n Need) *Pick {
	if picks[s] == nil {
		picks[s] = &Pick{Lot: s.lot.Code, Freezer: s.lot.Freezer, UseFrom: n.UseFrom, PullBy: pullBy(n.UseFrom, s.lot.Freezer, r.ThawH)}
	}
	return picks[s]
}

// pullBy is the latest time to take out a bag for use from useFrom on.
func pullBy(useFrom time.Time, freezer bool, thawH float64) time.Time {
	if !freezer {
		return useFrom
	}
	return useFrom.Add(-time.Duration(thawH * float64(time.Hour)))
}

func (s *stock) inRestWindow(r Rules, n Need) bool { return s.lot.inRestWindow(r, n) }

func (s *stock) thawsTooLate(r Rules, n Need, now time.Time) bool {
	return s.lot.thawsTooLate(r, n, now)
}

// Usable reports whether the lot can be used for a need: rested on its day, and thawed by its first use if it is taken out from now on.
func (l Lot) Usable(r Rules, n Need, now time.Time) bool {
	return l.inRestWindow(r, n) && !l.thawsTooLate(r, n, now)
}

func (l Lot) inRestWindow(r Rules, n Need) bool {
	rest := float64(l.rest(n.Date))
	return rest >= r.RestMinDays && rest <= r.RestMaxDays
}

func (l Lot) thawsTooLate(r Rules, n Need, now time.Time) bool {
	return l.Freezer && pullBy(n.UseFrom, true, r.ThawH).Before(now)
}

// packs is the mass of the whole bags that cover left g, or of all sealed bags.
func (s *stock) packs(left, packG float64) float64 {
	if packG <= 0 {
		return min(left, s.sealed)
	}
	return min(math.Ceil(left/packG-1e-9)*packG, s.sealed)
}

func shortfalls(store []*stock, r Rules, n Need, now time.Time, lack float64) []Shortfall {
	var out []Shortfall
	rest := lack
	for _, s := range store {
		idle := min(s.open+s.sealed, lack)
		if idle <= 0 {
			continue
		}
		x := Shortfall{Lot: s.lot.Code, G: idle}
		switch age := float64(s.lot.rest(n.Date)); {
		case age < r.RestMinDays:
			x.Reason = TooYoung
			x.Usable = n.Date.AddDate(0, 0, int(math.Ceil(r.RestMinDays-age)))
		case age > r.RestMaxDays:
			x.Reason = TooOld
			x.Usable = n.Date.AddDate(0, 0, int(math.Floor(r.RestMaxDays-age)))
		case s.thawsTooLate(r, n, now):
			x.Reason = ThawLate
			x.Usable = now.Add(time.Duration(r.ThawH * float64(time.Hour)))
		default:
			continue
		}
		out = append(out, x)
		rest -= idle
	}
	if rest > 1e-9 {
		out = append(out, Shortfall{Reason: TooFew, G: rest})
	}
	return out
}
