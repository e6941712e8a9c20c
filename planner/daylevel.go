package planner

import (
	"math"

	"hotday/models"
	"hotday/planner/demand"
)

// soFar is what the counts of the days under way show.
type soFar struct {
	levels map[models.Date]*demand.DayLevel
	rows   map[rowKey]demand.Seen
	odd    map[models.Date]int // counts far beyond their rows' ranges, which count as a busy day's
}

// newSoFar estimates each service day's demand level from its counts so far.
func newSoFar(r *models.PlanRequest, h *horizon, words map[rowKey]*models.Demand, casts map[rowKey]*models.Forecast) soFar {
	out := soFar{levels: map[models.Date]*demand.DayLevel{}, rows: map[rowKey]demand.Seen{}, odd: map[models.Date]int{}}
	type seen struct{ expected, count, own float64 }
	by := map[models.Date]*seen{}
	corr := demand.CorrelationOf(r)
	for _, s := range r.Sold {
		key := rowKey{s.Date, s.DayPart, s.Drink}
		rng, ok := demand.FromRequest(words[key], casts[key])
		if !ok || rng.Mean() <= 0 {
			continue
		}
		gone := h.soldShare(r, s)
		if gone <= 0 {
			continue
		}
		t := rng.Table()
		m := rng.Mean() * gone
		x := by[s.Date]
		if x == nil {
			x = &seen{}
			by[s.Date] = x
		}
		x.expected += m
		count := s.Count
		if busy := max(rng.P90()*gone, m); count > demand.OutlierFactor*busy+fewServings {
			out.odd[s.Date]++
			count = busy
		}
		x.count += count
		out.rows[key] = demand.Seen{Expected: out.rows[key].Expected + m, Count: out.rows[key].Count + count}
		x.own += (1 - corr.Day) * max(0, t.Variance()-t.Mean()) * gone * gone
	}
	for date, x := range by {
		l := demand.NewDayLevel(levelSD(r, date, words, casts)).Observe(x.expected, x.count, x.expected/(x.expected+x.own))
		out.levels[date] = &l
	}
	return out
}

// fewServings is the number of drinks that even a slow seller may sell without the count looking odd.
const fewServings = 20

// levelSD is the relative standard deviation of a day's level before any count: that of the day's total if its rows had no variance but
// the part that they share, as in the simulated days.
func levelSD(r *models.PlanRequest, date models.Date, words map[rowKey]*models.Demand, casts map[rowKey]*models.Forecast) float64 {
	c := demand.CorrelationOf(r)
	shared, mean := 0.0, 0.0
	for i := range r.Site.DayParts {
		for j := range r.Drinks {
			key := rowKey{date, r.Site.DayParts[i].Code, r.Drinks[j].Code}
			if rng, ok := demand.FromRequest(words[key], casts[key]); ok && rng.Mean() > 0 {
				t := rng.Table()
				shared += math.Sqrt(c.Day * max(0, t.Variance()-t.Mean()))
				mean += rng.Mean()
			}
		}
	}
	if mean <= 0 {
		return 0
	}
	return shared / mean
}

// soldShare returns the share of a row's demand that falls before its counts end, with events.
func (h *horizon) soldShare(r *models.PlanRequest, s models.Sold) float64 {
	for i := range h.site.DayParts {
		p := &h.site.DayParts[i]
		if p.Code != s.DayPart {
			continue
		}
		span := h.site.DayPartSpan(s.Date, *p)
		var all, gone float64
		for _, o := range h.site.OpenSpans(s.Date) {
			o = o.Overlap(span)
			if o.Empty() {
				continue
			}
			all += o.To.Sub(o.From).Minutes()
			gone += models.EventMinutes(r.Events, o.Overlap(models.Span{From: o.From, To: s.Until}))
		}
		if all > 0 {
			return gone / all
		}
	}
	return 0
}
