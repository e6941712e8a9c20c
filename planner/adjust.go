package planner

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"hotday/models"
	"hotday/planner/risk"
)

// The critical ratio is the level that one gram is worth preparing for when it can be used all day. Lots perish, batches have a
// smallest size, and what one part of the day leaves another may not use: how much is worth preparing is seen on simulated days.

// adjustSteps are how far the level is moved on trial, in standard normal scores.
var adjustSteps = []float64{0.25, 0, -0.25, -0.5, -0.75, -1, -1.25, -1.6}

const (
	adjustDays     = 250 // of a thousand that judge; fewer where fewer judge
	fewestToAdjust = 60
	adjustOfDays   = 4
	// Other days than those that judge the plan: a plan fitted to its judge looks better than it is.
	adjustSeed = 7919
	// Of levels whose days cost the same but for this part the lowest is taken: less is poured away.
	almostAsCheap = 0.01
)

// adjustable reports whether the levels are the planner's to choose: the site states none, and prices say what a shortage costs.
func (bp *brewPlan) adjustable() bool {
	if bp.req.ServiceLevelPct != nil {
		return false
	}
	if levels := bp.levelsBefore(); levels != nil {
		bp.needs.byDay = levels
		bp.needs.path = bp.needs.pathAt(bp.req, bp.h, levels)
		return false
	}
	return slices.ContainsFunc(bp.needs.costs, func(c beverageCost) bool { return !c.freely })
}

// adjust moves each beverage's level of each service day to the step that costs least on simulated days, the batches of a first
// look made larger or smaller in the measure of the path. The days are the same at every step.
func (bp *brewPlan) adjust(ctx context.Context) error {
	spans, n := bp.h.daySlots(), bp.needs
	bevs := len(bp.req.Beverages)
	in := bp.riskInput(nil)
	var costs [][][]float64
	for _, step := range adjustSteps {
		x, err := bp.trial(ctx, bp.resized(in, n.pathAt(bp.req, bp.h, n.moved(step, bevs, len(spans)))))
		if err != nil {
			return err
		}
		costs = append(costs, x)
	}
	levels := n.moved(0, bevs, len(spans))
	for b := range bevs {
		for d := range spans {
			if !n.costs[b].freely {
				levels[b][d] = stepped(n.levels[b], lowestStep(costs, b, d))
			}
		}
	}
	n.byDay = levels
	n.path = n.pathAt(bp.req, bp.h, levels)
	return nil
}

// levelsBefore are those of the plan before: a kitchen hates a plan that jumps, and a level that is chosen anew with each count would
// make it. A day without batches has the level of the beverage's other days, a beverage without any the critical ratio moved as far
// as the others are on average. Nil where there is no plan before.
func (bp *brewPlan) levelsBefore() [][]float64 {
	n := bp.needs
	bevs, days := len(bp.req.Beverages), len(bp.h.days)
	steps, by := 0.0, make([][]float64, bevs) // scores moved by day; NaN: not known
	known := 0
	for b := range by {
		by[b] = slices.Repeat([]float64{math.NaN()}, days)
	}
	for i := range bp.opt.Before {
		x := &bp.opt.Before[i]
		b, ok := bp.bevIndex[x.Beverage]
		ready := bp.h.slotOf(x.Ready)
		if !ok || ready < 0 || ready >= bp.h.n || x.LevelPct <= 0 {
			continue
		}
		d := bp.h.dayOf(ready) // the day that it serves, which may be the one after it is begun
		by[b][d] = score(x.LevelPct/100) - score(n.levels[b])
		steps += by[b][d]
		known++
	}
	if known == 0 {
		return nil
	}
	out := make([][]float64, bevs)
	for b := range out {
		other := steps / float64(known)
		for _, s := range by[b] {
			if !math.IsNaN(s) {
				other = s
				break
			}
		}
		for _, s := range by[b] {
			if math.IsNaN(s) {
				s = other
			}
			if n.costs[b].freely {
				s = 0
			}
			out[b] = append(out[b], stepped(n.levels[b], s))
		}
	}
	return out
}

// lowestStep is the lowest step at which a beverage's day costs hardly more than at its cheapest; between two steps as far as the
// straight line between their costs allows, so that a small change of the request moves it little.
func lowestStep(costs [][][]float64, b, d int) float64 {
	cheapest := 0
	for k := range costs {
		if costs[k][b][d] < costs[cheapest][b][d] {
			cheapest = k
		}
	}
	most := costs[cheapest][b][d] * (1 + almostAsCheap)
	for k := cheapest + 1; k < len(costs); k++ {
		was, is := costs[k-1][b][d], costs[k][b][d]
		if is > most {
			return adjustSteps[k-1] + (adjustSteps[k]-adjustSteps[k-1])*(most-was)/(is-was)
		}
	}
	return adjustSteps[len(adjustSteps)-1]
}

// moved are the beverages' levels by service day, each a step away.
func (n *needs) moved(step float64, bevs, days int) [][]float64 {
	out := make([][]float64, bevs)
	for b := range out {
		out[b] = slices.Repeat([]float64{stepped(n.levels[b], step)}, days)
	}
	return out
}

func stepped(level, step float64) float64 {
	return min(max(distuv.UnitNormal.CDF(score(level)+step), 0.01), 0.99)
}

func score(level float64) float64 { return distuv.UnitNormal.Quantile(min(max(level, 0.01), 0.99)) }

// resized is the input with each batch still to be made as much larger or smaller as the path of its day is, within what its
// brewer makes.
func (bp *brewPlan) resized(in risk.Input, path [][]float64) risk.Input {
	spans := bp.h.daySlots()
	in.Stocks = slices.Clone(in.Stocks)
	for b := range in.Stocks {
		lots := slices.Clone(in.Stocks[b].Lots)
		k := 0
		for _, l := range bp.result.Lots {
			if l.Beverage != b || l.G <= 0 {
				continue
			}
			if l.Start >= 0 {
				span := spans[bp.h.dayOf(l.ReadySlot)]
				if was := models.Sum(bp.needs.path[b][span[0]:span[1]]); was > 0 {
					o := &bp.options[bp.optionOf(bp.result.Starts[l.Start])]
					f := min(max(l.G*models.Sum(path[b][span[0]:span[1]])/was, o.lo), o.hi) / l.G
					lots[k].G *= f
					lots[k].IceG *= f
				}
			}
			k++
		}
		in.Stocks[b].Lots = lots
	}
	return in
}

// trial is what the simulated days cost of each beverage on each service day: the coffee of what is made, throwing away what is
// left, and what is short. What is left when the days end counts as thrown away: the critical ratio reckons so, too.
func (bp *brewPlan) trial(ctx context.Context, in risk.Input) ([][]float64, error) {
	r, err := risk.Simulate(ctx, in, bp.req.Seed+adjustSeed, min(max(bp.days()/adjustOfDays, fewestToAdjust), adjustDays))
	if err != nil {
		return nil, err
	}
	days := len(bp.h.days)
	out := make([][]float64, len(in.Stocks))
	for b := range in.Stocks {
		c := &bp.needs.costs[b]
		out[b] = make([]float64, days)
		for k, l := range in.Stocks[b].Lots {
			out[b][bp.h.dayOf(l.From)] += c.unit*l.G + c.disposal*r.LotLeft[b][k]
		}
		for d := range min(days, len(r.Stocks[b].Days)) {
			out[b][d] += c.short * r.Stocks[b].Days[d].Mean
		}
	}
	return out, nil
}
