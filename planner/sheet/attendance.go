package sheet

import (
	"slices"
	"time"

	"hotday/models"
)

// openSpans returns the opening hours of a service day without closures, in order.
func openSpans(r *models.PlanRequest, d models.Date) (out []models.Span) {
	closed := models.Closures(r.Events)
	for _, s := range r.Site.OpenSpans(d) {
		out = append(out, models.Without(s, closed)...)
	}
	return out
}

// attendance returns when somebody is there on a service day: the opening hours and set-up time around them, within the shifts of the
// people listed.
func attendance(r *models.PlanRequest, d models.Date) []models.Span {
	pad := models.Minutes(r.Site.SetupMin)
	var there []models.Span
	for _, s := range openSpans(r, d) {
		there = append(there, models.Span{From: s.From.Add(-pad), To: s.To.Add(pad)})
	}
	return r.Site.Attended(models.Merged(there))
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
	x.shut = models.Merged(models.NothingBegins(r.Attention))
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
