package planner

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/demand"
)

// need is what may still be asked for of one drink in one day part.
type need struct {
	window int // index in horizon.windows
	drink  int
	rng    demand.Range
	slot   int       // first slot
	share  []float64 // of rng, slot by slot; adds up to 1, or to 0 where the shop is closed
}

// needs are the demand of the request on the slots.
type needs struct {
	rows []need
	// Items of the path: the beverages in order, then serving ice, water for drinks, then a coffee's doses made to order.
	levels []float64
	path   [][]float64 // g by item and slot
	meanG  [][]float64 // the same at the mean
	costs  []beverageCost
	iceKg  float64 // cost of a kg of serving ice short
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

// newNeeds spreads the demand rows flat over the open time of their parts, moves what is left of a day by its counts, and
// makes the path that the schedule serves.
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
	levels := dayLevels(r, h, words, casts)
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
			rng = n.rest(rng, levels[win.date], rest, factor)
			n.rows = append(n.rows, need{window: w, drink: d, rng: rng, slot: slot, share: share})
		}
	}
	n.price(r, recipes)
	n.makePath(r, h, first)
	return n
}

// rest is what is left of a row's range: rest of its time, moved by the day's counts, times the events' factor.
func (n *needs) rest(rng demand.Range, level *demand.DayLevel, rest, factor float64) demand.Range {
	scale := rest * factor
	if scale != 1 {
		rng = rng.Scaled(scale)
	}
	basis := rng.Basis()
	if factor != 1 {
		basis += fmt.Sprintf("; times %.2f for events and closures", factor)
	}
	switch {
	case rest == 0:
		basis += "; the shop is closed then"
	case rest < 1:
		basis += fmt.Sprintf("; %.0f %% of the day part is still to come", rest*100)
	}
	if level != nil {
		rng = level.Rest(rng, demand.Assumed())
		basis += fmt.Sprintf("; the counts so far put the day at %.0f %%", level.Mean()*100)
	}
	return rng.WithBasis(basis)
}

// spread is the flat share of a part's demand by slot, over open time only. rest is the part of its open time that is still to
// come, factor what events make of the demand in it.
func (h *horizon) spread(r *models.PlanRequest, w *window) (slot int, share []float64, rest, factor float64) {
	// Minutes of the part's regular hours, before and from now on, are the measure; events change what they hold.
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
			m := eventMinutes(r.Events, cell.Overlap(s).Overlap(w.span))
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

// eventMinutes is the length of a span, minutes, weighted with the factors of the events over it; closures count nothing.
func eventMinutes(events []models.Event, s models.Span) float64 {
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
			if (models.Span{From: e.From, To: e.To}).Contains(cuts[i-1]) {
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

// dayLevels learns each service day's level from its counts so far.
func dayLevels(r *models.PlanRequest, h *horizon, words map[rowKey]*models.Demand, casts map[rowKey]*models.Forecast) map[models.Date]*demand.DayLevel {
	type seen struct{ expected, count, own float64 }
	by := map[models.Date]*seen{}
	corr := demand.Assumed()
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
		x.count += s.Count
		x.own += (1 - corr.Day) * max(0, t.Variance()-t.Mean()) * gone * gone
	}
	out := map[models.Date]*demand.DayLevel{}
	for date, x := range by {
		l := demand.NewDayLevel(dayLevelSD).Observe(x.expected, x.count, x.expected/(x.expected+x.own))
		out[date] = &l
	}
	return out
}

// dayLevelSD is the relative standard deviation of a day's level before anything is counted: an assumption.
const dayLevelSD = 0.2

// soldShare is the part of a row's demand that lies before its counts end, events counted in.
func (h *horizon) soldShare(r *models.PlanRequest, s models.Sold) float64 {
	for i := range h.site.DayParts {
		p := &h.site.DayParts[i]
		if p.Code != s.DayPart {
			continue
		}
		span := h.site.PartSpan(s.Date, *p)
		var all, gone float64
		for _, o := range h.site.OpenSpans(s.Date) {
			o = o.Overlap(span)
			if o.Empty() {
				continue
			}
			all += o.To.Sub(o.From).Minutes()
			gone += eventMinutes(r.Events, o.Overlap(models.Span{From: o.From, To: s.Until}))
		}
		if all > 0 {
			return gone / all
		}
	}
	return 0
}

// beverageCost is money per gram of a beverage, minor units.
type beverageCost struct {
	unit, disposal, short, aging float64
	freely                       bool // no price says what a gram short costs: twice the making counts
}

// price works out what a gram short costs (lost contribution, times the site's factor, on top of the making that is saved) and
// from it the levels that the path is made for.
func (n *needs) price(r *models.PlanRequest, recipes []*recipe) {
	coffee := map[string]*models.Coffee{}
	for i := range r.Coffees {
		coffee[r.Coffees[i].Code] = &r.Coffees[i]
	}
	perG := func(code string) float64 { // of coffee as dosed
		c := coffee[code]
		if c == nil {
			return 0
		}
		return c.CostPerKg / 1000 / (1 - c.GrinderLossPct/100)
	}
	index := map[string]int{}
	for i := range r.Beverages {
		b := &r.Beverages[i]
		index[b.Code] = i
		n.costs = append(n.costs, beverageCost{unit: recipes[i].doseFor(1) * perG(b.Coffee), disposal: b.DisposalCost / 1000, aging: b.AgingCostPerKgPH / 1000})
	}
	mean := make([]float64, len(r.Drinks)) // servings
	for _, row := range n.rows {
		mean[row.drink] += row.rng.Mean()
	}
	lost, grams := make([]float64, len(r.Beverages)), make([]float64, len(r.Beverages))
	var iceLost, iceG float64
	for d := range r.Drinks {
		x := &r.Drinks[d]
		contribution, total := x.Price-x.OtherCost, 0.0
		for _, s := range x.Doses {
			contribution -= s.DoseG * perG(s.Coffee)
		}
		for _, u := range x.Uses {
			contribution -= u.G * n.costs[index[u.Beverage]].unit
			total += u.G
		}
		for _, u := range x.Uses {
			w := mean[d]
			if w <= 0 {
				w = 1e-6 // a drink nobody is expected to ask for still has a price
			}
			lost[index[u.Beverage]] += w * max(0, contribution) * u.G / total
			grams[index[u.Beverage]] += w * u.G
		}
		if x.ServingIceG > 0 && mean[d] > 0 {
			iceLost += mean[d] * max(0, contribution)
			iceG += mean[d] * x.ServingIceG
		}
	}
	factor := r.Costs.ShortFactor
	top := 0.0
	for i := range n.costs {
		c := &n.costs[i]
		margin := 0.0
		if grams[i] > 0 {
			margin = factor * lost[i] / grams[i]
		}
		if r.ServiceLevelPct != nil || margin <= 0 {
			// The level is stated, or no price says it: shortage must at least cost more than making and throwing away.
			floor := noPriceShort * (c.unit + c.disposal + cheapestRun)
			c.freely = margin < floor
			margin = max(margin, floor)
		}
		c.short = margin + c.unit
		level := demand.CriticalRatio(margin, c.unit+c.disposal, r.ServiceLevelPct)
		if c.freely && r.ServiceLevelPct == nil {
			level = 0.5
		}
		level = min(max(level, 0.01), 0.99)
		n.levels = append(n.levels, level)
		top = max(top, level)
	}
	if iceG > 0 {
		n.iceKg = factor * iceLost / iceG * 1000
	}
	n.iceKg = max(n.iceKg, 1)
	if len(n.levels) == 0 {
		top = 0.8
	}
	// Ice, water and beans keep, and nothing is served without them: half the drinks' risk.
	keeps := min(max(1-(1-top)/2, 0.9), 0.98)
	for range 2 + len(r.Coffees) {
		n.levels = append(n.levels, keeps)
	}
}

// Without a price a shortage counts noPriceShort times the making, cheapestRun (minor units a gram) at least.
const (
	noPriceShort = 3
	cheapestRun  = 0.001
)

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
			g[index[u.Beverage]] += u.G
		}
		g[len(r.Beverages)] = x.ServingIceG
		g[len(r.Beverages)+1] = x.WaterG
		for _, s := range x.Doses {
			g[coffee[s.Coffee]] += s.DoseG
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
	n.path = demand.Path(n.paths, h.n, n.levels, demand.PathOptions{Correlation: demand.Assumed(), Seed: r.Seed})
	for _, p := range n.path {
		for t, x := range p {
			if math.IsNaN(x) || x < 0 {
				x = 0
			}
			p[t] = bounded(x)
		}
	}
}
