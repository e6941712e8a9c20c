package models

import "time"

// Shifts returns the spans of a service day with people on shift, in no particular order, with how many each adds. Spans for the date
// override those of its weekday.
func (s Site) Shifts(d Date) []Shift {
	var own, usual []Shift
	day := weekdays[d.Weekday()]
	for _, p := range s.People {
		span := localSpan(d, p.From, p.To, 0, s.Location())
		switch {
		case p.Date != nil && *p.Date == d:
			own = append(own, Shift{span, p.OnShift})
		case p.Date == nil && p.Weekday == day:
			usual = append(usual, Shift{span, p.OnShift})
		}
	}
	if len(own) > 0 {
		return own
	}
	return usual
}

// Attended returns the parts of spans in order in which somebody is on shift; all of them where nobody is listed.
func (s Site) Attended(spans []Span) []Span {
	if len(s.People) == 0 || len(spans) == 0 {
		return spans
	}
	var shifts []Span
	last := DateOf(spans[len(spans)-1].To, s.Location())
	for d := DateOf(spans[0].From, s.Location()).AddDays(-1); d <= last; d = d.AddDays(1) {
		for _, x := range s.Shifts(d) {
			if x.People > 0 {
				shifts = append(shifts, x.Span)
			}
		}
	}
	var out []Span
	for _, x := range Merged(shifts) {
		for _, p := range spans {
			if o := x.Overlap(p); !o.Empty() {
				out = append(out, o)
			}
		}
	}
	return Merged(out)
}

// NothingBegins are the spans of attention in which no task may begin.
func NothingBegins(attention []Attention) (out []Span) {
	for _, a := range attention {
		if a.Starts == 0 {
			out = append(out, Span{From: a.From, To: a.To})
		}
	}
	return out
}

// Shift is a number of people on shift in a span.
type Shift struct {
	Span
	People float64
}

// OnShiftAt returns how many people are on shift at an instant of a service day or of the night after it.
func OnShiftAt(shifts []Shift, t time.Time) float64 {
	n := 0.0
	for _, s := range shifts {
		if s.Contains(t) {
			n += s.People
		}
	}
	return n
}
