package planner

import (
	"hotday/models"
	"hotday/planner/demand"
)

// dayLevels estimates each service day's demand level from its counts so far. A count far beyond its row's range is capped at a busy
// day's; odd counts those by date.
func dayLevels(r *models.PlanRequest, h *horizon, words map[rowKey]*models.Demand, casts map[rowKey]*models.Forecast) (out map[models.Date]*demand.DayLevel, odd map[models.Date]int) {
	odd = map[models.Date]int{}
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
			odd[s.Date]++
			count = busy
		}
		x.count += count
		x.own += (1 - corr.Day) * max(0, t.Variance()-t.Mean()) * gone * gone
	}
	out = map[models.Date]*demand.DayLevel{}
	for date, x := range by {
		l := demand.NewDayLevel(dayLevelSD).Observe(x.expected, x.count, x.expected/(x.expected+x.own))
		out[date] = &l
	}
	return out, odd
}

// fewServings is the number of drinks that even a slow seller may sell without the count looking odd.
const fewServings = 20

// dayLevelSD is the relative standard deviation of a day's level before any count (an assumption).
const dayLevelSD = 0.2

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
