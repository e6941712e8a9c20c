package planner

import (
	"slices"

	"hotday/planner/demand"
)

// levelSteps are shifts of the beverages' service levels from the critical ratio by service day, in standard normal scores.
type levelSteps struct {
	n      *needs
	by     [][]float64   // steps, by beverage and day
	totals [][][]float64 // g demanded on simulated days, by beverage and day
}

// commonSteps are the shifts of all levels together that are tried, in falling order: where ice is scarce the best plan is one for far
// fewer drinks.
var commonSteps = []float64{0.25, 0, -0.25, -0.5, -0.75, -1, -1.3, -1.7, -2.2, -3}

func (bp *brewPlan) newLevelSteps() *levelSteps {
	bevs, days := len(bp.req.Beverages), len(bp.h.days)
	x := &levelSteps{n: bp.needs, totals: demand.DayTotals(bp.needs.paths, bevs, days, demand.PathOptions{Correlation: demand.CorrelationOf(bp.req), Seed: bp.req.Seed})}
	for range bevs {
		x.by = append(x.by, make([]float64, days))
	}
	return x
}

// all gives every beverage and day the same step.
func (x *levelSteps) all(step float64) {
	for b := range x.by {
		for d := range x.by[b] {
			x.by[b][d] = step
		}
	}
}

// amount is what the path of a beverage asks for on a day at a step, g.
func (x *levelSteps) amount(b, d int, step float64) float64 {
	return demand.QuantileOf(x.totals[b][d], x.n.steppedLevel(b, step))
}

// levels are the service levels by beverage and day.
func (x *levelSteps) levels() [][]float64 {
	out := make([][]float64, len(x.by))
	for b := range out {
		for _, step := range x.by[b] {
			out[b] = append(out[b], x.n.steppedLevel(b, step))
		}
	}
	return out
}

// steppedLevel is a beverage's level shifted by a step; without a price it stays.
func (n *needs) steppedLevel(b int, step float64) float64 {
	if n.costs[b].unpriced {
		step = 0
	}
	return stepped(n.levels[b], step)
}

// cheapestSteps scales the batches to the levels that cost least on simulated days: one common step for all, as a drink needs its beverage
// and its ice.
func (p *polish) cheapestSteps() *levelSteps {
	x := p.bp.newLevelSteps()
	var costs []float64
	for _, step := range commonSteps {
		x.all(step)
		costs = append(costs, p.priceOf(p.scaledTo(x)))
	}
	x.all(lowestStep(commonSteps, costs))
	p.take(p.scaledTo(x))
	return x
}

// scaledTo are the batches, each scaled like the demand of its beverage and day from the critical ratio to the steps, within its brewer's
// limits.
func (p *polish) scaledTo(x *levelSteps) []pick {
	next := slices.Clone(p.batches)
	for i := p.fixed; i < len(next); i++ {
		b, d := p.bp.options[next[i].option].bev, p.dayOf(next[i])
		if was := x.amount(b, d, 0); was > 0 {
			next[i] = p.pickAt(next[i].option, next[i].slot, p.grams(next[i])*x.amount(b, d, x.by[b][d])/was)
		}
	}
	return next
}

// fit moves each beverage's steps by the same so that they ask for as much more or less than the critical ratio as the polished batches
// make more or less than those made for it.
func (x *levelSteps) fit(p *polish, first []pick) {
	for b := range x.by {
		made := func(batches []pick) (g float64) {
			for _, k := range batches {
				if p.bp.options[k.option].bev == b {
					g += p.grams(k)
				}
			}
			return g
		}
		asked := func(by float64) (g float64) {
			for d, step := range x.by[b] {
				g += x.amount(b, d, step+by)
			}
			return g
		}
		want := 0.0
		for d := range x.by[b] {
			want += x.amount(b, d, 0)
		}
		if before := made(first); before > 0 {
			want *= made(p.batches) / before
		}
		low, high := -4.0, 4.0
		for range 30 {
			if mid := (low + high) / 2; asked(mid) < want {
				low = mid
			} else {
				high = mid
			}
		}
		for d := range x.by[b] {
			x.by[b][d] += (low + high) / 2
		}
	}
}

// lowestStep returns the lowest of the steps, which fall, at which the cost is almost as low as at its lowest, interpolated between steps so
// that a small change to the request changes it little.
func lowestStep(steps, costs []float64) float64 {
	cheapest := 0
	for k := range costs {
		if costs[k] < costs[cheapest] {
			cheapest = k
		}
	}
	most := costs[cheapest] * (1 + almostAsCheap)
	for k := cheapest + 1; k < len(costs); k++ {
		was, is := costs[k-1], costs[k]
		if is > most {
			return steps[k-1] + (steps[k]-steps[k-1])*(most-was)/(is-was)
		}
	}
	return steps[len(steps)-1]
}
