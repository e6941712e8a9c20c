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
