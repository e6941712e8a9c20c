package models

import (
	"slices"
	"time"
)

// Touches reports whether a span shares time with any of several.
func Touches(spans []Span, s Span) bool {
	for _, x := range spans {
		if !x.Overlap(s).Empty() {
			return true
		}
	}
	return false
}

// Without returns the parts of a span that none of the cuts covers.
func Without(s Span, cuts []Span) []Span {
	left := []Span{s}
	for _, c := range cuts {
		var next []Span
		for _, l := range left {
			if o := l.Overlap(c); o.Empty() {
				next = append(next, l)
				continue
			}
			if l.From.Before(c.From) {
				next = append(next, Span{From: l.From, To: c.From})
			}
			if c.To.Before(l.To) {
				next = append(next, Span{From: c.To, To: l.To})
			}
		}
		left = next
	}
	return left
}

// Merged joins spans that touch or overlap, in order of time. It sorts the spans it is given.
func Merged(spans []Span) []Span {
	sortSpans(spans)
	var out []Span
	for _, s := range spans {
		if k := len(out); k > 0 && !s.From.After(out[k-1].To) {
			if s.To.After(out[k-1].To) {
				out[k-1].To = s.To
			}
			continue
		}
		out = append(out, s)
	}
	return out
}

// Later is the later of two instants.
func Later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// Earlier is the earlier of two instants.
func Earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// Closures are the spans of the events that close the shop.
func Closures(events []Event) (out []Span) {
	for _, e := range events {
		if e.Closed {
			out = append(out, Span{From: e.From, To: e.To})
		}
	}
	return out
}

// EventMinutes returns the length of a span, min, weighted with the factors of the events over it; closed time counts nothing.
func EventMinutes(events []Event, s Span) float64 {
	if s.Empty() {
		return 0
	}
	cuts := []time.Time{s.From, s.To}
	for _, e := range events {
		for _, t := range []time.Time{e.From, e.To} {
			if t.After(s.From) && t.Before(s.To) {
				cuts = append(cuts, t)
			}
		}
	}
	slices.SortFunc(cuts, time.Time.Compare)
	m := 0.0
	for i := 1; i < len(cuts); i++ {
		factor := 1.0
		for _, e := range events {
			if (Span{From: e.From, To: e.To}).Contains(cuts[i-1]) {
				if e.Closed {
					factor = 0
				}
				factor *= e.Factor
			}
		}
		m += factor * cuts[i].Sub(cuts[i-1]).Minutes()
	}
	return m
}

// Minutes and Hours make a duration of a number.
func Minutes(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }

func Hours(x float64) time.Duration { return time.Duration(x * float64(time.Hour)) }

// Sum adds up, in order.
func Sum(xs []float64) float64 {
	s := 0.0
	for _, x := range xs {
		s += x
	}
	return s
}

// UnknownHottestC is the air temperature assumed, °C, where a request has no weather for an hour of the day at all.
const UnknownHottestC = 35.0

// HoldH returns how long a batch of a beverage may be kept after it is ready, h: its hold time within the site's limit.
func (s Site) HoldH(b *Beverage) float64 { return min(b.HoldH, s.MaxHoldH) }
