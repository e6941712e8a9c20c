package replay

import (
	"time"

	"hotday/planner/margin"
)

// serving is the working memory of one slot's sales. Items are the beverages in order, then serving ice.
type serving struct {
	stock, need, unserved []float64
}

// negligible is the fraction of a demand that counts as zero.
const negligible = 1e-9

// serve serves the drinks asked for in slot t from the cold store and ice g of ice. When an item is short, each drink is served
// in the proportion of its scarcest item, and the rest is shared again among the drinks that still can be served. It returns the
// ice used and whether ice was short.
func (s *serving) serve(sim *simulation, t int, at time.Time, ice float64) (used float64, iceShort bool) {
	items := len(sim.s.Beverages) + 1
	s.stock, s.need = zeros(s.stock, items), zeros(s.need, items)
	s.unserved = zeros(s.unserved, len(sim.s.Drinks))
	anyDemand := false
	for d := range s.unserved {
		s.unserved[d] = sim.demand[d][t]
		anyDemand = anyDemand || s.unserved[d] > 0
		sim.figures.Demand += s.unserved[d]
		sim.figures.Coffee += s.unserved[d] * sim.prices.Coffee[d]
	}
	if !anyDemand {
		return 0, false
	}
	for i := range sim.k.lots {
		s.stock[sim.k.lots[i].bev] += sim.k.lots[i].g
	}
	s.stock[items-1] = ice
	before := append([]float64(nil), s.stock...)
	for range items + 1 {
		if !s.round(sim) {
			break
		}
	}
	for d, x := range s.unserved {
		if x <= negligible*sim.demand[d][t] {
			continue
		}
		sim.missed[d][t] = x
		sim.figures.Missed += x
		cause := margin.Beverage
		sim.eachUse(d, func(item int, g float64) {
			if !s.hasLeft(item, before) {
				sim.addShortfall(item, x*g)
				if item == items-1 {
					cause, iceShort = margin.Ice, true
				}
			}
		})
		if cause == margin.Ice {
			sim.figures.MissedNoIce += x
		}
		sim.figures.Lost += x * sim.prices.Missed(d, cause)
	}
	for b := range sim.s.Beverages {
		sim.takeFromLots(b, before[b]-s.stock[b], at)
	}
	return ice - s.stock[items-1], iceShort
}

func (s *serving) hasLeft(item int, before []float64) bool {
	return s.stock[item] > negligible*(before[item]+1)
}

// round serves each drink that can be served its share once; false if nothing was served.
func (s *serving) round(sim *simulation) bool {
	clear(s.need)
	for d, x := range s.unserved {
		if s.canServe(sim, d) {
			sim.eachUse(d, func(item int, g float64) { s.need[item] += x * g })
		}
	}
	for i := range s.need {
		if s.need[i] > s.stock[i] {
			s.need[i] = s.stock[i] / s.need[i]
		} else {
			s.need[i] = 1
		}
	}
	served := false
	used := make([]float64, len(s.stock))
	for d, x := range s.unserved {
		if !s.canServe(sim, d) {
			continue
		}
		share := 1.0
		sim.eachUse(d, func(item int, _ float64) { share = min(share, s.need[item]) })
		sim.eachUse(d, func(item int, g float64) { used[item] += share * x * g })
		served = served || share > 0
		if s.unserved[d] = x * (1 - share); share == 1 {
			s.unserved[d] = 0
		}
	}
	for i := range used {
		s.stock[i] = max(0, s.stock[i]-used[i])
	}
	return served
}

// canServe reports whether there is some of everything for a drink.
func (s *serving) canServe(sim *simulation, d int) bool {
	ok := s.unserved[d] > 0
	sim.eachUse(d, func(item int, _ float64) { ok = ok && s.stock[item] > negligible })
	return ok
}

// eachUse calls f with each item and its grams in a serving.
func (sim *simulation) eachUse(d int, f func(item int, g float64)) {
	x := &sim.s.Drinks[d]
	for _, u := range x.Uses {
		f(sim.beverageIndex(u.Beverage), sim.s.Site.UsedG(u.G))
	}
	if x.ServingIceG > 0 {
		f(len(sim.s.Beverages), sim.s.Site.ServingIceUsedG(x))
	}
}

func (sim *simulation) beverageIndex(code string) int {
	for i := range sim.s.Beverages {
		if sim.s.Beverages[i].Code == code {
			return i
		}
	}
	return -1
}

// takeFromLots takes g of a beverage from the lots with the earliest use-by first, and counts their ageing cost.
func (sim *simulation) takeFromLots(bev int, g float64, at time.Time) {
	for i := range sim.k.lots {
		b := &sim.k.lots[i]
		if b.bev != bev || g <= 0 {
			continue
		}
		y := min(b.g, g)
		b.g -= y
		g -= y
		sim.figures.Aging += y * sim.prices.AgingPerGH[bev] * max(0, at.Sub(b.ready).Hours())
	}
}

func zeros(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	v = v[:n]
	clear(v)
	return v
}
