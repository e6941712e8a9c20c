package facts

import (
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// The share of its usual selling time that a drink had in a day part. If the shop opened for less of it, or the drink was sold out
// for a while, the count is only part of the demand; time is weighted by the site's intraday curve.
const (
	leastOnSale   = 0.3  // of the usual time: less tells too little of the rest
	leastWeighted = 0.1  // with what events took away
	evenly        = 0.2  // of a part's demand, whatever the curve says: a curve of few sales has holes
	beyondUsual   = 0.5  // of the part's mean rate, for time in which the shop is usually closed: a guess
	eventTouch    = 0.25 // of a part's open time that an event must cover to tell of it
)

// exposure weights the time of one service day.
type exposure struct {
	g      *gathering
	date   models.Date
	events []models.Event
	off    []models.OffSale
}

// exposureOn selects the events and spans off sale that overlap a service day.
func (g *gathering) exposureOn(d models.Date, events []models.Event, off []models.OffSale) exposure {
	x := exposure{g: g, date: d}
	day := models.Span{From: d.At(0, g.r.Site.Location()), To: g.r.Site.DayEnd(d)}
	for _, e := range events {
		if !day.Overlap(models.Span{From: e.From, To: e.To}).Empty() {
			x.events = append(x.events, e)
		}
	}
	for _, o := range off {
		if o.From.Before(day.To) && (o.To == nil || o.To.After(day.From)) {
			x.off = append(x.off, o)
		}
	}
	return x
}

// usual is the time of a day part that lies within the weekly opening hours; if there is none on this weekday, that of the next
// weekday that has some.
func (x *exposure) usual(p models.DayPart) []models.Span {
	site := &x.g.r.Site
	for k := range 7 {
		span := site.DayPartSpan(x.date.AddDays(k), p)
		if in := overlaps(site.UsualSpans(x.date.AddDays(k)), span); len(in) > 0 {
			shift := span.From.Sub(site.DayPartSpan(x.date, p).From)
			for i := range in {
				in[i].From, in[i].To = in[i].From.Add(-shift), in[i].To.Add(-shift)
			}
			return in
		}
	}
	return []models.Span{site.DayPartSpan(x.date, p)}
}

func overlaps(spans []models.Span, with models.Span) (out []models.Span) {
	for _, s := range spans {
		if o := s.Overlap(with); !o.Empty() {
			out = append(out, o)
		}
	}
	return out
}

// share is the fraction of a day part's usual selling time that a drink had, weighted by the curve, and the mean factor of the
// events in it: 1 and 1 on most days, more if the shop opened for longer. An empty drink was never off sale.
func (x *exposure) share(p models.DayPart, drink string) (onSale, weighted float64, err error) {
	return x.shareOf(x.open(p, drink), p)
}

// shareOpen is the share from the date's opening hours alone.
func (x *exposure) shareOpen(p models.DayPart) (float64, error) {
	site := &x.g.r.Site
	n, _, err := (&exposure{g: x.g, date: x.date}).shareOf(overlaps(site.OpenSpans(x.date), site.DayPartSpan(x.date, p)), p)
	return n, err
}

// open is the time of a day part in which a drink was on sale.
func (x *exposure) open(p models.DayPart, drink string) (out []models.Span) {
	site := &x.g.r.Site
	cuts := models.Closures(x.events)
	end := site.DayEnd(x.date)
	for _, o := range x.off {
		if o.Drink != drink {
			continue
		}
		s := models.Span{From: o.From, To: end}
		if o.To != nil {
			s.To = *o.To
		}
		cuts = append(cuts, s)
	}
	for _, s := range overlaps(site.OpenSpans(x.date), site.DayPartSpan(x.date, p)) {
		out = append(out, models.Without(s, cuts)...)
	}
	return out
}

func (x *exposure) shareOf(spans []models.Span, p models.DayPart) (share, weighted float64, err error) {
	usual := x.usual(p)
	if len(x.events) == 0 && slices.EqualFunc(spans, usual, func(a, b models.Span) bool { return a.From.Equal(b.From) && a.To.Equal(b.To) }) {
		return 1, 1, nil // no curve is needed to say so
	}
	curve, err := x.g.intraday()
	if err != nil {
		return 0, 0, err
	}
	minutes, curved := 0.0, 0.0
	length := func(s models.Span) float64 { return s.To.Sub(s.From).Minutes() }
	sold := func(s models.Span) float64 { return curve.over(cell{Span: s, date: x.date}, nil) }
	for _, u := range usual {
		minutes += length(u)
		curved += sold(u)
	}
	worthOf := func(s models.Span) float64 { // of usual time: 1 for all of it
		if curved <= 0 {
			return length(s) / minutes
		}
		return (1-evenly)*sold(s)/curved + evenly*length(s)/minutes
	}
	for _, s := range spans {
		for _, piece := range x.between(s) {
			worth := 0.0
			for _, u := range overlaps(usual, piece) {
				worth += worthOf(u)
			}
			worth += beyondUsual / minutes * minutesOn(piece, usual)
			share += worth
			weighted += worth * x.factor(piece.From)
		}
	}
	return share, weighted, nil
}

// between splits a span at the start and end of each event.
func (x *exposure) between(s models.Span) (out []models.Span) {
	for _, e := range x.events {
		for _, t := range []time.Time{e.From, e.To} {
			if t.After(s.From) && t.Before(s.To) {
				return append(x.between(models.Span{From: s.From, To: t}), x.between(models.Span{From: t, To: s.To})...)
			}
		}
	}
	return []models.Span{s}
}

func (x *exposure) factor(at time.Time) float64 {
	f := 1.0
	for _, e := range x.events {
		if (models.Span{From: e.From, To: e.To}).Contains(at) {
			f *= e.Factor
		}
	}
	return f
}

// named returns the events of unknown effect that overlap enough of a part's opening hours. A factor other than 1 is a known
// effect.
func (x *exposure) named(p models.DayPart) string {
	site := &x.g.r.Site
	var names []string
	for _, e := range x.events {
		if e.Closed || e.Factor != 1 || e.Kind == models.HolidayKind || strings.TrimSpace(e.Name) == "" {
			continue
		}
		all, touched := 0.0, 0.0
		for _, o := range overlaps(site.OpenSpans(x.date), site.DayPartSpan(x.date, p)) {
			all += o.To.Sub(o.From).Minutes()
			if t := o.Overlap(models.Span{From: e.From, To: e.To}); !t.Empty() {
				touched += t.To.Sub(t.From).Minutes()
			}
		}
		if touched > 0 && touched >= eventTouch*all && !slices.Contains(names, e.Name) {
			names = append(names, e.Name)
		}
	}
	slices.Sort(names)
	return strings.Join(names, " and ")
}

// holiday reports whether a date is a public holiday whose effect is to be learnt, with its name; of two at once, both. A factor other than
// 1 is a known effect.
func (g *gathering) holiday(d models.Date, events []models.Event) (name string, is bool) {
	noon := d.At(12*60, g.r.Site.Location())
	var names []string
	for _, e := range events {
		if e.Kind == models.HolidayKind && e.Factor == 1 && (models.Span{From: e.From, To: e.To}).Contains(noon) {
			is = true
			if n := strings.TrimSpace(e.Name); n != "" && !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	slices.Sort(names)
	return strings.Join(names, " and "), is
}
