package planner

import (
	"hotday/models"
	"hotday/planner/demand"
)

// beverageCost is money per gram of a beverage, minor units.
type beverageCost struct {
	unit, disposal, short, aging float64
	unpriced                     bool // no price gives the cost of a missing gram; a multiple of its making counts
}

// price computes the cost of a missing gram (lost contribution times the site's factor, plus the cost of making it, which is saved) and
// from it the service levels of the demand path.
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
			contribution -= r.Site.UsedG(s.DoseG) * perG(s.Coffee)
		}
		for _, u := range x.Uses {
			contribution -= r.Site.UsedG(u.G) * n.costs[index[u.Beverage]].unit
			total += u.G
		}
		for _, u := range x.Uses {
			w := mean[d]
			if w <= 0 {
				w = 1e-6 // a drink with no expected demand still has a price
			}
			lost[index[u.Beverage]] += w * max(0, contribution) * u.G / total
			grams[index[u.Beverage]] += w * r.Site.UsedG(u.G)
		}
		if x.ServingIceG > 0 && mean[d] > 0 {
			iceLost += mean[d] * max(0, contribution)
			iceG += mean[d] * r.Site.ServingIceUsedG(x)
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
			// A level is set, or no price is known: a shortage must cost more than making and discarding.
			floor := noPriceShort * (c.unit + c.disposal + cheapestRun)
			c.unpriced = margin < floor
			margin = max(margin, floor)
		}
		c.short = margin + c.unit
		level := demand.CriticalRatio(margin, c.unit+c.disposal, r.ServiceLevelPct)
		if c.unpriced && r.ServiceLevelPct == nil {
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
	// Ice, water and beans keep, and no drink is served without them, so they get half the drinks' risk.
	keeps := min(max(1-(1-top)/2, 0.9), 0.98)
	for range 2 + len(r.Coffees) {
		n.levels = append(n.levels, keeps)
	}
}

// Without a price, a missing gram costs noPriceShort times its making, or cheapestRun (minor units per gram) if that is more.
const (
	noPriceShort = 3
	cheapestRun  = 0.001
)
