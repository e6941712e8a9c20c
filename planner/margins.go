package planner

import (
	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/margin"
)

// beverageCost is money per gram of a beverage, minor units.
type beverageCost struct {
	unit, disposal, short, aging float64
	unpriced                     bool // no price gives the cost of a missing gram; a multiple of its making counts
}

// price computes the cost of a missing gram of each beverage (of a missed sale by that cause, plus the cost of making it, which is saved)
// and of ice for drinks, and from them the service levels of the demand path.
func (n *needs) price(r *models.PlanRequest) {
	p := margin.Of(&r.Setup)
	n.prices = p
	index := map[string]int{}
	for i := range r.Beverages {
		index[r.Beverages[i].Code] = i
		n.costs = append(n.costs, beverageCost{unit: p.CoffeePerG[i], disposal: p.DisposalPerG[i], aging: p.AgingPerGH[i]})
	}
	mean := make([]float64, len(r.Drinks)) // servings
	for _, row := range n.rows {
		mean[row.drink] += row.rng.Mean()
	}
	lost, grams := make([]float64, len(r.Beverages)), make([]float64, len(r.Beverages))
	var iceLost, iceG float64
	for d := range r.Drinks {
		x := &r.Drinks[d]
		total := 0.0
		for _, u := range x.Uses {
			total += u.G
		}
		for _, u := range x.Uses {
			w := mean[d]
			if w <= 0 {
				w = 1e-6 // a drink with no expected demand still has a price
			}
			lost[index[u.Beverage]] += w * p.Missed(d, margin.Beverage) * u.G / total
			grams[index[u.Beverage]] += w * r.Site.UsedG(u.G)
		}
		if x.ServingIceG > 0 && mean[d] > 0 {
			iceLost += mean[d] * p.Missed(d, margin.Ice)
			iceG += mean[d] * r.Site.ServingIceUsedG(x)
		}
	}
	top := 0.0
	for i := range n.costs {
		c := &n.costs[i]
		lostPerG := 0.0
		if grams[i] > 0 {
			lostPerG = lost[i] / grams[i]
		}
		if r.ServiceLevelPct != nil || lostPerG <= 0 {
			// A level is set, or no price is known: a shortage must cost more than making and discarding.
			floor := noPriceShort * (c.unit + c.disposal + cheapestRun)
			c.unpriced = lostPerG < floor
			lostPerG = max(lostPerG, floor)
		}
		c.short = lostPerG + c.unit
		level := demand.CriticalRatio(lostPerG, c.unit+c.disposal, r.ServiceLevelPct)
		if c.unpriced && r.ServiceLevelPct == nil {
			level = 0.5
		}
		level = min(max(level, 0.01), 0.99)
		n.levels = append(n.levels, level)
		top = max(top, level)
	}
	if iceG > 0 {
		n.iceKg = iceLost / iceG * 1000
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
