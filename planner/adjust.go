package planner

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"hotday/planner/batch"
	"hotday/planner/risk"
)

// The critical ratio is the right service level for a gram that can be sold all day. Lots perish, batches have a smallest size, and
// coffee left from one part of the day may be no use in the next, so the levels are chosen on simulated days instead.

const (
	mostToAdjust   = 160 // at most, for 1,000 Monte Carlo days
	fewestToAdjust = 60
	adjustOfDays   = 4
	// A seed of its own: levels fitted to the days that evaluate the plan would make it look better than it is.
	adjustSeed = 7919
	// Among levels whose cost differs by no more than this share, the lowest wins: less is poured away.
	almostAsCheap = 0.001
)

// judged reports whether schedules are judged by what they cost on simulated days: the site sets no level, the demand is
// uncertain, and prices give the cost of a shortage.
func (bp *brewPlan) judged() bool {
	return bp.req.ServiceLevelPct == nil && !bp.needs.certain() && slices.ContainsFunc(bp.needs.costs, func(c beverageCost) bool { return !c.unpriced })
}

// adjustable reports whether the planner may choose the levels. After a previous plan it keeps that plan's.
func (bp *brewPlan) adjustable() bool {
	if bp.req.ServiceLevelPct != nil || bp.needs.certain() {
		return false
	}
	if levels := bp.levelsBefore(); levels != nil {
		bp.needs.byDay = levels
		bp.needs.path = bp.needs.pathAt(bp.req, bp.h, levels)
		return false
	}
	return bp.judged()
}

// chooseLevels schedules the batches at the levels that cost least on simulated days: the search serves one path of demand, and what is
// best for it can be several per cent dearer on other days. A first schedule is scaled and polished on those days; then the search serves
// the path whose amounts that makes, and the cheaper of the two is the schedule.
func (bp *brewPlan) chooseLevels(ctx context.Context, loads []load, budget int) error {
	if err := bp.solve(ctx, loads, budget/firstShare, nil); err != nil {
		return err
	}
	p := bp.newPolish(ctx, bp.polishWork())
	first := p.batches
	steps := p.cheapestSteps()
	p.improve()
	if err := ctx.Err(); err != nil {
		return err
	}
	steps.fit(p, first)
	polished, ice := p.starts(p.batches), bp.in.Ice
	bp.bathShare = max(bp.bathShare, bp.bathFromDrinks())
	bp.setLevels(steps.levels())
	bp.in.Ice = ice
	if _, err := batch.Evaluate(bp.in, polished); err != nil { // the store has room for them where more is sold
		steps.all(0)
		bp.setLevels(steps.levels())
	}
	if bp.in.Slots <= wholeUpTo { // pieces of a long horizon need the whole budget
		budget /= finishShare
	}
	if _, err := bp.agree(ctx, bp.drink.loads, budget, polished, nil); err != nil {
		return err
	}
	return bp.keepIfCheaper(ctx, polished)
}

// Shares of the budget: of the schedule from which levels are chosen, and of the one at those levels.
const (
	firstShare  = 8
	finishShare = 3
)

// setLevels states the instance at the given levels of the beverages by service day; nil: the critical ratio's.
func (bp *brewPlan) setLevels(levels [][]float64) {
	bp.needs.byDay, bp.needs.path = levels, bp.needs.pathAt(bp.req, bp.h, levels)
	bp.in = bp.instance()
}

// possible reports whether the instance accepts starts.
func (bp *brewPlan) possible(starts []batch.Start) bool {
	_, err := batch.Evaluate(bp.in, starts)
	return err == nil
}

// keepIfCheaper makes other starts the schedule if they are possible and cost less than the present ones on simulated days.
func (bp *brewPlan) keepIfCheaper(ctx context.Context, other []batch.Start) error {
	if !bp.possible(other) {
		return nil
	}
	found := slices.Clone(bp.result.Starts)
	now, err := bp.mendedCost(ctx)
	if err != nil {
		return err
	}
	if err := bp.accept(other); err != nil {
		return err
	}
	then, err := bp.mendedCost(ctx)
	if err != nil || then < now {
		return err
	}
	return bp.accept(found)
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

// simulatedCost is the cost of the schedule on the days by which levels are chosen.
func (bp *brewPlan) simulatedCost(ctx context.Context) (float64, error) {
	return bp.costOver(ctx, bp.daysToTry())
}

// costOver is the expected cost of the schedule on simulated days, of whole drinks.
func (bp *brewPlan) costOver(ctx context.Context, days *risk.Days) (float64, error) {
	r, err := days.Simulate(ctx, bp.riskInput(nil))
	if err != nil {
		return 0, err
	}
	dr := draft{brewPlan: bp, outlook: &r}
	return dr.expected().Cost.Total + bp.unpricedCost(&r), nil
}

// unpricedCost is the cost of missed drinks that have no price, beside their coffee.
func (bp *brewPlan) unpricedCost(r *risk.Result) float64 {
	cost := 0.0
	for j := range bp.req.Drinks {
		cost += r.Missed[j] * bp.unpriced(j)
	}
	return cost
}

// unpriced is the cost of a missed serving of a drink that has no price, beside its coffee; 0 for one that has.
func (bp *brewPlan) unpriced(drink int) float64 {
	cost := 0.0
	for _, u := range bp.req.Drinks[drink].Uses {
		if c := &bp.needs.costs[bp.bevIndex[u.Beverage]]; c.unpriced {
			cost += bp.req.Site.UsedG(u.G) * (c.short - c.unit)
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

func stepped(level, step float64) float64 {
	return min(max(distuv.UnitNormal.CDF(score(level)+step), 0.01), 0.99)
}

func score(level float64) float64 { return distuv.UnitNormal.Quantile(min(max(level, 0.01), 0.99)) }
