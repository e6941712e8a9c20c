package audit

import (
	"math"
	"slices"
	"time"

	"hotday/models"
)

// presence returns when somebody is there: opening hours without closures, with set-up time on both sides, and where the site lists its
// people, only while one of them is on shift.
func presence(r *models.PlanRequest) []models.Span { return presenceFor(r, openHours(r, dates(r))) }

// presenceFor returns when somebody is there for some opening hours.
func presenceFor(r *models.PlanRequest, open []models.Span) []models.Span {
	pad := models.Minutes(r.Site.SetupMin)
	var there []models.Span
	for _, s := range open {
		there = append(there, models.Span{From: s.From.Add(-pad), To: s.To.Add(pad)})
	}
	there = models.Merged(there)
	if len(r.Site.People) == 0 {
		return there
	}
	var out []models.Span
	for _, s := range shifts(r) {
		for _, t := range there {
			if o := t.Overlap(s.Span); s.people > 0 && !o.Empty() {
				out = append(out, o)
			}
		}
	}
	return models.Merged(out)
}

// dates lists the service days that the documents may touch: from the day before now to two days after the last one planned.
func dates(r *models.PlanRequest) []models.Date {
	var out []models.Date
	last := r.From.AddDays(r.Days + 1)
	for d := models.DateOf(r.Now, r.Site.Location()).AddDays(-2); d <= last; d = d.AddDays(1) {
		out = append(out, d)
	}
	return out
}

// openHours returns the opening hours of service days without closures.
func openHours(r *models.PlanRequest, days []models.Date) []models.Span {
	var closed, out []models.Span
	for _, e := range r.Events {
		if e.Closed {
			closed = append(closed, models.Span{From: e.From, To: e.To})
		}
	}
	for _, d := range days {
		for _, s := range r.Site.OpenSpans(d) {
			out = append(out, models.Without(s, closed)...)
		}
	}
	return out
}

// shift is a span with people on shift.
type shift struct {
	models.Span
	people float64
}

// shifts returns the spans of all dates with how many people each adds; those of a date override those of its weekday.
func shifts(r *models.PlanRequest) []shift {
	names := [...]string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}
	var out []shift
	for _, d := range dates(r) {
		var own, usual []shift
		for _, p := range r.Site.People {
			s := shift{models.ClockSpan{From: p.From, To: p.To}.On(d, r.Site.Location()), p.OnShift}
			switch {
			case p.Date != nil && *p.Date == d:
				own = append(own, s)
			case p.Date == nil && p.Weekday == names[d.Weekday()]:
				usual = append(usual, s)
			}
		}
		if len(own) > 0 {
			usual = own
		}
		out = append(out, usual...)
	}
	return out
}

// onShift is how many people are on shift at an instant.
func (p *Papers) onShift(t time.Time) float64 {
	n := 0.0
	for _, s := range shifts(p.request) {
		if s.Contains(t) {
			n += s.people
		}
	}
	return n
}

// there reports whether somebody is there from one instant to another.
func (p *Papers) there(from, to time.Time) bool {
	for _, s := range p.present {
		if !from.Before(s.From) && !to.After(s.To) {
			return true
		}
	}
	return false
}

// edgeMin is how near opening or closing a task counts as done then, min.
const edgeMin = 90

// atEdge reports whether an instant is near the beginning or the end of people's presence, or of opening hours, or when the shop is closed.
func (p *Papers) atEdge(t time.Time) bool {
	if !within(openHours(p.request, dates(p.request)), t) {
		return true
	}
	near := func(e time.Time) bool { return t.Sub(e).Abs() <= edgeMin*time.Minute }
	for _, s := range p.present {
		if near(s.From) || near(s.To) {
			return true
		}
	}
	for _, s := range openHours(p.request, dates(p.request)) {
		if near(s.From) || near(s.To) {
			return true
		}
	}
	return false
}

func within(spans []models.Span, t time.Time) bool {
	return slices.ContainsFunc(spans, func(s models.Span) bool { return s.Contains(t) })
}

// outages returns when a piece of equipment is out of order.
func (p *Papers) outages(kind, code string) []models.Span {
	var out []models.Span
	for _, o := range p.request.Outages {
		if o.Kind == kind && (kind == "tank" || o.Code == code) {
			out = append(out, models.Span{From: o.From, To: o.To})
		}
	}
	return models.Merged(out)
}

// hours is the part of a span, h, in which equipment is not out of order.
func hours(s models.Span, out []models.Span) float64 {
	h := 0.0
	for _, x := range models.Without(s, out) {
		if !x.Empty() {
			h += x.To.Sub(x.From).Hours()
		}
	}
	return h
}

// work returns how long each kind of work takes at the site, min: the defaults of site.work_min are common practice, no source.
func (p *Papers) work() models.WorkMin {
	if w := p.request.Site.WorkMin; w != nil {
		return *w
	}
	return models.WorkMin{Brew: 5, BathFlash: 4, BathChilled: 8, Store: 5, Tray: 5, Strain: 12, StrainTakes: 40, Fill: 5, Get: 2, Count: 5}
}

// near reports whether two numbers agree within an absolute and a relative tolerance.
func near(a, b, abs, rel float64) bool {
	return math.Abs(a-b) <= abs+rel*max(math.Abs(a), math.Abs(b))
}
