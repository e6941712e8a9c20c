package planner

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"hotday/models"
	"hotday/planner/risk"
)

// The critical ratio is the right service level for a gram that can be sold all day. Lots perish, batches have a smallest size, and
// coffee left from one part of the day may be no use in the next, so the levels are chosen on simulated days instead.

// adjustSteps are the shifts of the service level that are tried, in standard normal scores.
var adjustSteps = []float64{0.25, 0, -0.25, -0.5, -0.75, -1, -1.25, -1.6}

const (
	adjustDays     = 250 // at most, for 1,000 Monte Carlo days
	fewestToAdjust = 60
	adjustOfDays   = 4
	// A seed of its own: levels fitted to the days that evaluate the plan would make it look better than it is.
	adjustSeed = 7919
	// Among levels whose cost differs by no more than this share, the lowest wins: less is poured away.
	almostAsCheap = 0.01
)

// adjustable reports whether the planner may choose the levels: the site sets none, and prices give the cost of a shortage.
func (bp *brewPlan) adjustable() bool {
	if bp.req.ServiceLevelPct != nil {
		return false
	}
	if levels := bp.levelsBefore(); levels != nil {
		bp.needs.byDay = levels
		bp.needs.path = bp.needs.pathAt(bp.req, bp.h, levels)
		return false
	}
	return slices.ContainsFunc(bp.needs.costs, func(c beverageCost) bool { return !c.unpriced })
}

// adjust sets each beverage's level on each service day to the step with the lowest cost on simulated days. The batches of a first
// schedule are scaled with the demand path, and every step uses the same days (common random numbers).
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
			if !n.costs[b].unpriced {
				levels[b][d] = stepped(n.levels[b], lowestStep(costs, b, d))
			}
		}
	}
	n.byDay = levels
	n.path = n.pathAt(bp.req, bp.h, levels)
	return nil
}

// levelsBefore returns the levels of the previous plan, so that a replan does not jump with every count. A day without batches takes
// the level of the beverage's other days; a beverage without batches takes the critical ratio, shifted by the average of the others.
// It is nil without a previous plan.
func (bp *brewPlan) levelsBefore() [][]float64 {
	n := bp.needs
	bevs, days := len(bp.req.Beverages), len(bp.h.days)
	steps, by := 0.0, make([][]float64, bevs) // shift of the score by day; NaN: unknown
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
		d := bp.h.dayOf(ready) // the day it serves, which may be the day after it starts
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
			if n.costs[b].unpriced {
				s = 0
			}
			out[b] = append(out[b], stepped(n.levels[b], s))
		}
	}
	return out
}

// lowestStep returns the lowest step at which a beverage's day costs almost as little as at its cheapest, interpolated between steps so
// that a small change to the request changes it little.
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

// moved returns the beverages' levels by service day, each shifted by a step.
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

// resized returns the input with each batch still to be made scaled like the demand path of its day, within its brewer's limits.
func (bp *brewPlan) resized(in risk.Input, path [][]float64) risk.Input {
	spans := bp.h.daySlots()
	in.Stocks = slices.Clone(in.Stocks)
	for b := range in.Stocks {
		lots := slices.Clone(in.Stocks[b].Lots)
		for k, at := range bp.lotsOf(b) {
			if l := &bp.result.Lots[at]; l.Start >= 0 {
				span := spans[bp.h.dayOf(l.ReadySlot)]
				if was := models.Sum(bp.needs.path[b][span[0]:span[1]]); was > 0 {
					o := &bp.options[bp.optionOf(bp.result.Starts[l.Start])]
					f := min(max(l.G*models.Sum(path[b][span[0]:span[1]])/was, o.lo), o.hi) / l.G
					lots[k].G *= f
					lots[k].IceG *= f
				}
			}
		}
		in.Stocks[b].Lots = lots
	}
	return in
}

// trial returns the simulated cost of each beverage on each service day: coffee brewed, coffee discarded, and sales missed. Coffee
// left at the end of the horizon counts as discarded, as in the critical ratio.
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
