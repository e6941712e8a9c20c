package sheet

import (
	"slices"
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

// presence is when people are there, and when they begin nothing, on the days of a plan, the day before and the day after.
type presence struct {
	there []models.Span // in order
	shut  []models.Span // attention of 0 starts
	from  time.Time     // the past cannot be changed
}

func newPresence(r *models.PlanRequest, p *models.Plan) presence {
	x := presence{from: p.ComputedAt}
	for i := -1; i <= p.Days; i++ {
		x.there = append(x.there, attendance(r, p.From.AddDays(i))...)
	}
	if today := r.Site.ServiceDayOf(p.ComputedAt); today < p.From.AddDays(-1) { // a plan made days ahead has work from now on
		for d := today.AddDays(-1); d < p.From.AddDays(-1); d = d.AddDays(1) {
			x.there = append(x.there, attendance(r, d)...)
		}
	}
	x.there = models.Merged(x.there)
	for _, a := range r.Attention {
		if a.Starts == 0 {
			x.shut = append(x.shut, models.Span{From: a.From, To: a.To})
		}
	}
	x.shut = models.Merged(x.shut)
	return x
}

// open reports whether a task may begin at an instant, and somebody is there for the whole of it.
func (x *presence) open(at time.Time, takes time.Duration) bool {
	if at.Before(x.from) || slices.ContainsFunc(x.shut, func(s models.Span) bool { return s.Contains(at) }) {
		return false
	}
	return within(x.there, at, at.Add(takes))
}

// within reports whether one of several spans has both instants, its end included.
func within(spans []models.Span, from, to time.Time) bool {
	return slices.ContainsFunc(spans, func(s models.Span) bool { return !from.Before(s.From) && !to.After(s.To) })
}

// next is the first minute from t on at which a task may begin; ok is false if there is none.
func (x *presence) next(t time.Time, takes time.Duration) (at time.Time, ok bool) {
	for _, s := range x.there {
		at = s.From
		for _, from := range []time.Time{t, x.from} {
			if from.After(at) {
				at = from
			}
		}
		for _, c := range x.shut {
			if c.Contains(at) {
				at = c.To
			}
		}
		at = at.Add(time.Minute - 1).Truncate(time.Minute)
		if x.open(at, takes) {
			return at, true
		}
	}
	return t, false
}

// last is the last minute up to t at which a task may begin; ok is false if there is none.
func (x *presence) last(t time.Time, takes time.Duration) (at time.Time, ok bool) {
	for i := len(x.there) - 1; i >= 0; i-- {
		at = x.there[i].To.Add(-takes)
		if t.Before(at) {
			at = t
		}
		for k := len(x.shut) - 1; k >= 0; k-- {
			if x.shut[k].Contains(at) {
				at = x.shut[k].From.Add(-time.Minute)
			}
		}
		at = at.Truncate(time.Minute)
		if x.open(at, takes) {
			return at, true
		}
	}
	return t, false
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
