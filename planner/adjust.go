package planner

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/risk"
)

// The critical ratio is the right service level for a gram that can be sold all day. Lots perish, batches have a smallest size, and
// coffee left from one part of the day may be no use in the next, so the levels are chosen on simulated days instead.

// adjustSteps are the shifts of the service level that are tried, in standard normal scores.
var adjustSteps = []float64{0.25, 0, -0.25, -0.5, -0.75, -1, -1.25, -1.6}

// stepsToTry are those of adjustSteps at which whole schedules are compared.
var stepsToTry = []float64{-0.25, -0.5, -0.75}

const (
	mostToAdjust   = 250 // at most, for 1,000 Monte Carlo days
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

// chooseLevels schedules the batches at several levels and keeps the schedule that costs least on simulated days: the search serves one
// path of demand, and what is best for it can be several per cent dearer on other days.
func (bp *brewPlan) chooseLevels(ctx context.Context, loads []load, budget int, earlier []batch.Start) error {
	if err := bp.solve(ctx, loads, budget/8, earlier); err != nil {
		return err
	}
	best, err := bp.candidate(ctx, loads)
	if err != nil {
		return err
	}
	loads = bp.drink.loads
	list, err := bp.levelsToTry(ctx)
	if err != nil {
		return err
	}
	share := max(bp.bathShare, bp.bathFromDrinks())
	scarce := bp.overSupplies()
	if scarce { // what a schedule costs before it is cut to its supplies says little
		best.cost = math.Inf(1)
	}
	if scarce || bp.in.Slots > wholeUpTo { // pieces of a long horizon need the whole budget
		bp.setLevels(list[0].levels, list[0].path, share)
		if err := bp.tryLevels(ctx, &best, loads, budget, earlier, earlier); err != nil {
			return err
		}
		return bp.restore(&best)
	}
	for _, x := range list {
		bp.setLevels(x.levels, x.path, share)
		if err := bp.tryLevels(ctx, &best, loads, budget/tryShare, earlier, earlier); err != nil {
			return err
		}
	}
	was := best
	bp.setLevels(was.levels, was.path, was.bathShare)
	if err := bp.tryLevels(ctx, &best, was.loads, budget/finishShare, was.starts, earlier); err != nil {
		return err
	}
	if best.cost == was.cost { // a better bound for the same instance
		best.bound = max(best.bound, bp.firstBound)
	}
	return bp.restore(&best)
}

// Shares of the budget: of each schedule tried, and of the search around the best of them.
const (
	tryShare    = 8
	finishShare = 3
)

// atLevels are levels of the beverages by service day with their demand path.
type atLevels struct{ levels, path [][]float64 }

// candidate is a schedule and what it was searched with.
type candidate struct {
	atLevels
	bathShare float64
	loads     []load
	starts    []batch.Start
	bound     float64
	cost      float64 // simulated
}

// setLevels states the instance at other levels.
func (bp *brewPlan) setLevels(levels, path [][]float64, bathShare float64) {
	bp.needs.byDay, bp.needs.path, bp.bathShare = levels, path, bathShare
	bp.in = bp.instance()
}

// tryLevels schedules the batches at the present levels and makes the schedule the best if it is the cheapest.
func (bp *brewPlan) tryLevels(ctx context.Context, best *candidate, loads []load, budget int, warm, earlier []batch.Start) error {
	loads, err := bp.agree(ctx, loads, budget, warm, earlier)
	if err != nil {
		return err
	}
	c, err := bp.candidate(ctx, loads)
	if err != nil {
		return err
	}
	if c.cost < best.cost {
		*best = c
	}
	return nil
}

// candidate is the present schedule, searched with the given loads.
func (bp *brewPlan) candidate(ctx context.Context, loads []load) (candidate, error) {
	n := bp.needs
	levels := n.byDay
	if levels == nil {
		levels = n.moved(0, len(bp.req.Beverages), len(bp.h.days))
	}
	c := candidate{atLevels{levels, n.path}, bp.bathShare, loads, slices.Clone(bp.result.Starts), bp.bound, 0}
	var err error
	c.cost, err = bp.mendedCost(ctx)
	return c, err
}

// mendedCost drops the batches that have no ice and returns the simulated cost of the others.
func (bp *brewPlan) mendedCost(ctx context.Context) (float64, error) {
	unbathed := bp.unbathed
	err := bp.mendIce()
	bp.unbathed = unbathed // it may not be the schedule that is kept
	if err != nil {
		return 0, err
	}
	return bp.simulatedCost(ctx)
}

// restore makes a candidate the schedule.
func (bp *brewPlan) restore(c *candidate) error {
	bp.setLevels(c.levels, c.path, c.bathShare)
	bp.setIce(c.loads)
	bp.bound = c.bound
	return bp.accept(c.starts)
}

// simulatedCost is the cost of the schedule on the days by which levels are chosen.
func (bp *brewPlan) simulatedCost(ctx context.Context) (float64, error) {
	return bp.costOn(ctx, bp.daysToTry())
}

// costOn is the expected cost of the schedule on simulated days, of whole drinks.
func (bp *brewPlan) costOn(ctx context.Context, days *risk.Days) (float64, error) {
	r, err := days.Simulate(ctx, bp.riskInput(nil))
	if err != nil {
		return 0, err
	}
	dr := draft{brewPlan: bp, outlook: &r}
	return dr.expected().Cost.Total + bp.unpricedCost(&r), nil
}

// unpricedCost is the cost of missed drinks that have no price.
func (bp *brewPlan) unpricedCost(r *risk.Result) float64 {
	cost := 0.0
	for j := range bp.req.Drinks {
		for _, u := range bp.req.Drinks[j].Uses {
			if c := &bp.needs.costs[bp.bevIndex[u.Beverage]]; c.unpriced {
				cost += r.Missed[j] * bp.req.Site.UsedG(u.G) * c.short
			}
		}
	}
	return cost
}

// daysToTry are the days by which levels and schedules are chosen.
func (bp *brewPlan) daysToTry() *risk.Days {
	if bp.tried == nil {
		bp.tried = risk.Draw(bp.req.Seed+adjustSeed, bp.adjustDays())
	}
	return bp.tried
}

// adjustDays is the number of days by which levels are chosen.
func (bp *brewPlan) adjustDays() int {
	return min(max(bp.days()/adjustOfDays, fewestToAdjust), mostToAdjust)
}

// levelsToTry returns the levels at which schedules are worth comparing. The first gives each beverage on each service day the step with
// the lowest cost on simulated days, where the batches of the first schedule are scaled with the demand path and every step uses the same
// days (common random numbers). The others move all levels alike.
func (bp *brewPlan) levelsToTry(ctx context.Context) ([]atLevels, error) {
	spans, n := bp.h.daySlots(), bp.needs
	bevs := len(bp.req.Beverages)
	in := bp.riskInput(nil)
	var costs [][][]float64
	var moved []atLevels
	for _, step := range adjustSteps {
		levels := n.moved(step, bevs, len(spans))
		path := n.pathAt(bp.req, bp.h, levels)
		x, err := bp.trial(ctx, bp.resized(in, path))
		if err != nil {
			return nil, err
		}
		costs = append(costs, x)
		if slices.Contains(stepsToTry, step) {
			moved = append(moved, atLevels{levels, path})
		}
	}
	levels := n.moved(0, bevs, len(spans))
	for b := range bevs {
		for d := range spans {
			if !n.costs[b].unpriced {
				levels[b][d] = stepped(n.levels[b], lowestStep(costs, b, d))
			}
		}
	}
	return append([]atLevels{{levels, n.pathAt(bp.req, bp.h, levels)}}, moved...), nil
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

// moved returns the beverages' levels by service day, each shifted by a step but those without a price.
func (n *needs) moved(step float64, bevs, days int) [][]float64 {
	out := make([][]float64, bevs)
	for b := range out {
		by := step
		if n.costs[b].unpriced {
			by = 0
		}
		out[b] = slices.Repeat([]float64{stepped(n.levels[b], by)}, days)
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
	r, err := bp.daysToTry().Simulate(ctx, in)
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
