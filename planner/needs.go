package planner

import (
	"math"
	"slices"
	"strings"

	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/margin"
	"hotday/planner/say"
)

// need is the demand still to come for one drink in one day part.
type need struct {
	window int // index in horizon.windows
	drink  int
	rng    demand.Range
	slot   int       // first slot
	share  []float64 // of rng by slot; sums to 1, or to 0 where the shop is closed
	basis  string    // what rng rests on, in words
}

// needs is the request's demand laid out on the slots.
type needs struct {
	rows []need
	// Items of the path: the beverages in order, ice served in drinks, water for drinks, then each coffee's doses made to order.
	levels []float64
	byDay  [][]float64 // levels of the beverages by service day, as chosen on simulated days; nil before
	path   [][]float64 // g by item and slot
	meanG  [][]float64 // the same at the mean
	costs  []beverageCost
	iceKg  float64 // cost of a missing kg of ice for drinks
	prices *margin.Prices
	paths  []demand.Row
}

func (n *needs) serve(req *models.PlanRequest) []float64 { return n.path[len(req.Beverages)] }
func (n *needs) water(req *models.PlanRequest) []float64 { return n.path[len(req.Beverages)+1] }
func (n *needs) doses(req *models.PlanRequest, coffee int) []float64 {
	return n.path[len(req.Beverages)+2+coffee]
}

type rowKey struct {
	date        models.Date
	part, drink string
}

// newNeeds spreads each row of demand evenly over the open time of its day part, updates the rest of a day with its counts, and builds
// the demand path that the schedule serves.
func newNeeds(r *models.PlanRequest, h *horizon, recipes []*recipe) *needs {
	n := &needs{}
	words, casts := map[rowKey]*models.Demand{}, map[rowKey]*models.Forecast{}
	for i := range r.Demand {
		d := &r.Demand[i]
		words[rowKey{d.Date, d.DayPart, d.Drink}] = d
	}
	for i := range r.Forecast {
		f := &r.Forecast[i]
		casts[rowKey{f.Date, f.DayPart, f.Drink}] = f
	}
	seen := newSoFar(r, h, words, casts)
	v := say.For(r.Site)
	first := map[models.Date]int{}
	for i, d := range h.days {
		first[d] = i
	}
	for w := range h.windows {
		win := &h.windows[w]
		slot, share, rest, factor := h.spread(r, win)
		for d := range r.Drinks {
			key := rowKey{win.date, win.part.Code, r.Drinks[d].Code}
			rng, ok := demand.FromRequest(words[key], casts[key])
			if !ok {
				continue
			}
			basis := v.DemandBasis(rng, casts[key])
			n.rows = append(n.rows, need{window: w, drink: d, rng: seen.restOf(rng, key, rest*factor, demand.CorrelationOf(r)), slot: slot, share: share,
				basis: basis + restBasis(v, seen.levels[win.date], rest, factor, seen.odd[win.date] > 0)})
		}
	}
	n.price(r)
	n.makePath(r, h, first)
	return n
}

// certain reports whether the demand is known, so that its path is the same at any level.
func (n *needs) certain() bool {
	return !slices.ContainsFunc(n.rows, func(x need) bool { return x.rng.P90() > x.rng.P10() })
}

// restOf returns the range of a row's demand still to come: a share of it, updated with the counts of the day and of the row.
func (x *soFar) restOf(rng demand.Range, key rowKey, share float64, c demand.Correlation) demand.Range {
	if level := x.levels[key.date]; level != nil {
		return level.Rest(rng, share, c, x.rows[key])
	}
	if share != 1 {
		return rng.Scaled(share)
	}
	return rng
}

// restBasis says what the rest of a row rests on beside its range: the factor of events, the share of its time that is left, and the
// day's counts, of which one may be an outlier.
func restBasis(v say.Voice, level *demand.DayLevel, rest, factor float64, outlier bool) string {
	var out strings.Builder
	add := func(key string, args ...any) { out.WriteString(v.Say("said.semicolon") + v.Say(key, args...)) }
	switch change := math.Round((factor - 1) * 100); {
	case change > 0:
		add("basis.events_more", "pct", say.Number(change, 0))
	case change < 0:
		add("basis.events_less", "pct", say.Number(-change, 0))
	}
	switch {
	case rest == 0:
		add("basis.closed")
	case rest < 1:
		add("basis.rest", "pct", say.Number(rest*100, 0))
	}
	if level != nil {
		add("basis.day_level", "pct", say.Number(level.Mean()*100, 0))
	}
	if outlier {
		add("basis.outlier_today")
	}
	return out.String()
}

// spread returns the share of a part's demand in each slot, even over its open time. rest is the share of its open time still to come,
// factor the effect of events on the demand in it.
func (h *horizon) spread(r *models.PlanRequest, w *window) (slot int, share []float64, rest, factor float64) {
	// Shares are of the part's regular hours; events change the demand within them.
	var all, left float64
	for _, s := range h.site.OpenSpans(w.date) {
		o := s.Overlap(w.span)
		if o.Empty() {
			continue
		}
		all += o.To.Sub(o.From).Minutes()
		if l := o.Overlap(models.Span{From: h.start, To: o.To}); !l.Empty() {
			left += l.To.Sub(l.From).Minutes()
		}
	}
	slot = max(0, h.slotOf(w.span.From))
	end := min(h.n, h.slotFrom(w.span.To))
	share = make([]float64, max(0, end-slot))
	if all <= 0 || left <= 0 {
		return slot, share, 0, 1
	}
	total := 0.0
	for i := range share {
		cell := models.Span{From: h.at(slot + i), To: h.at(slot + i + 1)}
		for _, s := range h.site.OpenSpans(w.date) {
			m := models.EventMinutes(r.Events, cell.Overlap(s).Overlap(w.span))
			share[i] += m
			total += m
		}
	}
	if total > 0 {
		for i := range share {
			share[i] /= total
		}
	}
	return slot, share, left / all, total / left
}

// makePath builds the demand path and the mean. What a serving takes includes remakes (site.remake_pct) and, of ice, its other uses
// (site.other_ice_pct); the simulation (riskInput) and the facts that explain sold amounts use the same.
func (n *needs) makePath(r *models.PlanRequest, h *horizon, day map[models.Date]int) {
	items := len(n.levels)
	index := map[string]int{}
	for i := range r.Beverages {
		index[r.Beverages[i].Code] = i
	}
	coffee := map[string]int{}
	for i := range r.Coffees {
		coffee[r.Coffees[i].Code] = len(r.Beverages) + 2 + i
	}
	grams := make([][]float64, len(r.Drinks))
	for d := range r.Drinks {
		x := &r.Drinks[d]
		g := make([]float64, items)
		for _, u := range x.Uses {
			g[index[u.Beverage]] += r.Site.UsedG(u.G)
		}
		g[len(r.Beverages)] = r.Site.ServingIceUsedG(x)
		g[len(r.Beverages)+1] = r.Site.UsedG(x.WaterG)
		for _, s := range x.Doses {
			g[coffee[s.Coffee]] += r.Site.UsedG(s.DoseG)
		}
		grams[d] = g
	}
	n.meanG = make([][]float64, items)
	for i := range n.meanG {
		n.meanG[i] = make([]float64, h.n)
	}
	for i := range n.rows {
		row := &n.rows[i]
		w := &h.windows[row.window]
		n.paths = append(n.paths, demand.Row{Key: strings.Join([]string{string(w.date), w.part.Code, r.Drinks[row.drink].Code}, "|"), Day: day[w.date],
			Range: row.rng, Slot: row.slot, Share: row.share, G: grams[row.drink]})
		for item, g := range grams[row.drink] {
			if g <= 0 {
				continue
			}
			for k, s := range row.share {
				n.meanG[item][row.slot+k] += g * s * row.rng.Mean()
			}
		}
	}
	n.path = n.pathAt(r, h, n.byDay)
}

// pathAt returns the demand path at the given levels of the beverages by service day, g by item and slot.
func (n *needs) pathAt(r *models.PlanRequest, h *horizon, byDay [][]float64) [][]float64 {
	path := demand.Path(n.paths, h.n, n.levels, demand.PathOptions{Correlation: demand.CorrelationOf(r), Seed: r.Seed, ByDay: byDay})
	for _, p := range path {
		for t, x := range p {
			if math.IsNaN(x) || x < 0 {
				x = 0
			}
			p[t] = bounded(x)
		}
	}
	return path
}

// surge returns the ice for drinks on a bad day, g by slot.
func (n *needs) surge(r *models.PlanRequest, h *horizon) []float64 {
	x := *n
	x.levels = slices.Clone(n.levels)
	x.levels[len(r.Beverages)] = surgeLevel
	return x.pathAt(r, h, n.byDay)[len(r.Beverages)]
}

// level returns the service level that a beverage is prepared for on a service day.
func (n *needs) level(bev, day int) float64 {
	if bev < len(n.byDay) && day >= 0 && day < len(n.byDay[bev]) {
		return n.byDay[bev][day]
	}
	return n.levels[bev]
}
