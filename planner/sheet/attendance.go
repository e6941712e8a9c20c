package sheet

import (
	"time"

	"hotday/models"
)

// openSpans returns the opening hours of a service day without closures, in order.
func openSpans(r *models.PlanRequest, d models.Date) (out []models.Span) {
	var closed []models.Span
	for _, e := range r.Events {
		if e.Closed {
			closed = append(closed, models.Span{From: e.From, To: e.To})
		}
	}
	for _, s := range r.Site.OpenSpans(d) {
		out = append(out, models.Without(s, closed)...)
	}
	return out
}

// attendance returns when somebody is there on a service day: the opening hours and set-up time around them, within the shifts of the
// people listed.
func attendance(r *models.PlanRequest, d models.Date) (out []models.Span) {
	pad := models.Minutes(r.Site.SetupMin)
	var there []models.Span
	for _, s := range openSpans(r, d) {
		there = append(there, models.Span{From: s.From.Add(-pad), To: s.To.Add(pad)})
	}
	there = models.Merged(there)
	if len(r.Site.People) == 0 {
		return there
	}
	var shifts []models.Span
	for n := -1; n <= 1; n++ { // a shift before midnight may belong to the evening before, one at night to the next day
		for _, s := range r.Site.Shifts(d.AddDays(n)) {
			if s.People > 0 {
				shifts = append(shifts, s.Span)
			}
		}
	}
	for _, a := range there {
		for _, s := range models.Merged(shifts) {
			if o := a.Overlap(s); !o.Empty() {
				out = append(out, o)
			}
		}
	}
	return models.Merged(out)
}

// fitInto moves a start by the least time so that work of a length is done within one of several spans. ok is false where it fits none.
func fitInto(spans []models.Span, at time.Time, takes time.Duration) (start time.Time, ok bool) {
	for _, s := range spans {
		last := s.To.Add(-takes)
		if last.Before(s.From) {
			continue
		}
		x := at
		if x.Before(s.From) {
			x = s.From
		} else if x.After(last) {
			x = last
		}
		if !ok || x.Sub(at).Abs() < start.Sub(at).Abs() {
			start, ok = x, true
		}
	}
	return start, ok
}
