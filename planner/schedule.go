package planner

import (
	"context"
	"fmt"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/batch"
)

// planned is a batch of the plan.
type planned struct {
	option int
	slot   int
	amounts
	t   times
	lot int // in result.Lots
}

// planBatches schedules the batches: with all the ice that could be made, then with the tray loads that people are really asked to
// make, until batches and ice agree. A batch that still has no ice is left out.
func planBatches(ctx context.Context, kt *kitchen, needs *needs, drink, plain *iceStream) (*brewPlan, error) {
	bp := &brewPlan{kitchen: kt, needs: needs, drink: drink, plain: plain}
	if err := bp.schedule(ctx); err != nil {
		return nil, err
	}
	return bp, nil
}

func (bp *brewPlan) schedule(ctx context.Context) error {
	s := bp.drink
	copy(s.serve, bp.needs.serve(bp.req))
	if len(s.units) > 0 {
		s.surge, s.countAgeH = bp.needs.surge(bp.req, bp.h), bp.countAgeH()
	}
	loads := s.earliest()
	adjusts := bp.adjustable()
	bp.bathShare = bp.bathFromDrinks()
	bp.in = bp.instance()
	bp.setIce(loads)
	earlier := bp.earlierStarts()
	budget := bp.opt.Budget
	if budget <= 0 {
		if budget = batch.DefaultBudget; len(earlier) > 0 {
			budget = replanBudget
		}
	}
	if adjusts {
		if err := bp.chooseLevels(ctx, loads, budget); err != nil {
			return err
		}
	} else if err := bp.scheduleOnce(ctx, loads, budget, earlier); err != nil {
		return err
	}
	if err := bp.keepEarlier(ctx); err != nil {
		return err
	}
	if err := bp.keepToSupplies(ctx, budget, earlier); err != nil {
		return err
	}
	if err := bp.mend(); err != nil {
		return err
	}
	bp.opt.report(models.StepDays, shareDays)
	if bp.judged() && len(bp.opt.ChoicesBefore) == 0 { // the days of a polish know no choices, and would undo those of the plan before
		if err := bp.polish(ctx); err != nil {
			return err
		}
		if err := bp.mend(); err != nil {
			return err
		}
	}
	if bp.opt.NoChoices {
		return nil
	}
	return bp.choose(ctx, adjusts)
}

// scheduleOnce schedules the batches at the present levels.
func (bp *brewPlan) scheduleOnce(ctx context.Context, loads []load, budget int, earlier []batch.Start) error {
	warm := earlier
	if len(bp.drink.units) > 0 { // a first schedule shows which loads are worth making
		if err := bp.solve(ctx, loads, budget/8, warm); err != nil {
			return err
		}
		warm, loads = bp.warmStart(earlier), bp.drink.loads
	}
	_, err := bp.agree(ctx, loads, budget, warm, earlier)
	return err
}

// agree schedules the batches with the given loads and, if they do not agree with the loads and the bath ice chosen for them, again with
// those. It returns the loads that the schedule was searched with.
func (bp *brewPlan) agree(ctx context.Context, loads []load, budget int, warm, earlier []batch.Start) ([]load, error) {
	s := bp.drink
	for k := 0; ; k++ {
		if err := bp.solve(ctx, loads, budget, warm); err != nil {
			return nil, err
		}
		share := bp.bathFromDrinks()
		glass := *s
		glass.serve = bp.glassIce()
		run := glass.runBin(s.loads)
		if k > 0 || models.Sum(s.run.lack) < 0.5 && models.Sum(run.short) <= bp.result.IceShortG+50 && share <= bp.bathShare+0.02 {
			return loads, nil
		}
		if share > bp.bathShare {
			bp.bathShare = share
			bp.in = bp.instance()
		}
		warm, loads = bp.warmStart(earlier), s.loads
	}
}

// replanBudget is the work of a replan: an eighth, since it starts from the previous plan and mostly stays with it. On 52 replans of hot
// weekends half of it cost as much on simulated days as an eighth does.
const replanBudget = batch.DefaultBudget / 8

// warmStart returns the starting point of the next search: in a replan the previous plan's batches, since the replan should stay close
// to them, else those just found.
func (bp *brewPlan) warmStart(earlier []batch.Start) []batch.Start {
	if len(earlier) > 0 {
		return earlier
	}
	return bp.result.Starts
}

// solve schedules the batches with the ice of machines and the given loads, then picks the loads they really need.
func (bp *brewPlan) solve(ctx context.Context, loads []load, budget int, warm []batch.Start) error {
	bp.setIce(loads)
	fixed := bp.fixed()
	in, cost := around(bp.in, fixed)
	starts, bound, err := bp.solveInstance(ctx, in, budget, warm)
	if err != nil {
		return fmt.Errorf("planning batches: %w", err)
	}
	bp.bound = bound + cost
	return bp.accept(append(fixed, starts...))
}

// setIce states the instance's ice with the given tray loads.
func (bp *brewPlan) setIce(loads []load) {
	s := bp.drink
	stirs := false
	for _, rc := range bp.recipes {
		stirs = stirs || rc.unit.IceG > 0 || bp.bathShare > 0 && rc.inBath
	}
	if !stirs && models.Sum(s.serve) == 0 {
		bp.in.Ice = nil
		return
	}
	inflow := s.makeable()
	for _, l := range loads {
		if l.take < s.slots {
			inflow[l.take] += l.g
		}
	}
	serve := bp.glassIce()
	for t, g := range bp.keptIce() {
		serve[t] += g
	}
	for t, g := range bp.keptBathIce() {
		serve[t] += g
	}
	bp.in.Ice = &batch.Ice{OpeningG: s.opening, CapacityG: s.capacity, MakeG: inflow, ServeG: serve, LossPerSlot: 1 - s.keep, ShortPerKg: bounded(bp.needs.iceKg)}
}

// glassIce is the ice that drinks take, g by slot: of the drinks whose coffee the demand path has, where its levels are chosen, as coffee
// and ice are sold together; else the ice's own path.
func (bp *brewPlan) glassIce() []float64 {
	n := bp.needs
	if n.byDay == nil {
		return slices.Clone(bp.drink.serve)
	}
	out := make([]float64, bp.h.n)
	for i := range n.paths {
		p, d := &n.paths[i], &bp.req.Drinks[n.rows[i].drink]
		ice := bp.req.Site.ServingIceUsedG(d)
		if ice <= 0 {
			continue
		}
		for k, share := range p.Share {
			t, f := p.Slot+k, math.Inf(1)
			for b, g := range p.G[:len(bp.req.Beverages)] {
				if mean := n.meanG[b][t]; g > 0 && mean > 0 {
					f = min(f, n.path[b][t]/mean)
				}
			}
			if math.IsInf(f, 1) { // no beverage
				f = 1
			}
			out[t] += f * ice * share * p.Range.Mean()
		}
	}
	return out
}

// keptIce returns the ice that batches under way still take, g by slot.
func (kt *kitchen) keptIce() []float64 {
	out := make([]float64, kt.h.n)
	for _, b := range kt.kept {
		at := b.task.Start.Add(models.Minutes(b.t.ice))
		if t := kt.h.slotOf(at); b.task.State == models.Started && t >= 0 && t < kt.h.n {
			out[t] += b.iceG
		}
	}
	return out
}

// accept makes the starts the schedule: it works out serving, store and ice, and what people weigh out.
func (bp *brewPlan) accept(starts []batch.Start) error {
	r, err := batch.Evaluate(bp.in, bp.feasible(starts))
	if err != nil {
		return fmt.Errorf("working out the batches: %w", err)
	}
	bp.result = r
	bp.take()
	bp.chooseIce()
	return nil
}

// feasible drops starts, last first, until the whole instance accepts them: a rolling schedule is fixed piece by piece, and a replan is
// made around its first batches.
func (bp *brewPlan) feasible(starts []batch.Start) []batch.Start {
	for len(starts) > 0 && (bp.in.Slots > wholeUpTo || len(bp.opt.Before) > 0) {
		if _, err := batch.Evaluate(bp.in, starts); err == nil {
			break
		}
		starts = starts[:len(starts)-1]
	}
	return starts
}

func (kt *kitchen) optionOf(s batch.Start) int {
	for k := range kt.options {
		if o := &kt.options[k]; kt.req.Brewers[o.brewer].Code == s.Brewer && kt.req.Beverages[o.bev].Code == s.Beverage {
			return k
		}
	}
	return -1
}

// take turns the schedule into planned batches, and their ice into demand.
func (bp *brewPlan) take() {
	bp.batches = bp.plannedBatches(bp.result)
	copy(bp.drink.stir, bp.keptIce())
	for i := range bp.batches {
		p := &bp.batches[i]
		if t := bp.iceSlot(p); t < bp.h.n {
			bp.drink.stir[t] += p.iceG
		}
	}
}

// plannedBatches works out the batches of a schedule.
func (kt *kitchen) plannedBatches(r *batch.Result) []planned {
	lotOf := make([]int, len(r.Starts))
	for k, l := range r.Lots {
		if l.Start >= 0 {
			lotOf[l.Start] = k
		}
	}
	out := make([]planned, 0, len(r.Starts))
	for i, s := range r.Starts {
		k := kt.optionOf(s)
		o := &kt.options[k]
		p := planned{option: k, slot: s.StartSlot, amounts: *o.nearest(s.G), lot: lotOf[i]}
		p.t = kt.recipes[o.bev].timesOf(p.ext.BeverageG, kt.req.Brewers[o.brewer].BusyMin)
		out = append(out, p)
	}
	return out
}

// iceSlot is the slot in which a batch takes its ice.
func (kt *kitchen) iceSlot(p *planned) int {
	return p.slot + int(math.Floor(p.t.ice/kt.h.slot.Minutes()+1e-9))
}

// mend drops batches, one by one, that have no ice or none for their bath once whole tray loads are counted, and shrinks or drops those
// without water or beans once fills and bags are.
func (bp *brewPlan) mend() error {
	for {
		if err := bp.mendIce(); err != nil {
			return err
		}
		if changed, err := bp.mendSupplies(); err != nil || !changed {
			return err
		}
	}
}

// mendIce drops batches, one by one, that have no ice or none for their bath.
func (bp *brewPlan) mendIce() error {
	for {
		drop := bp.withoutIce()
		if drop < 0 {
			if drop = bp.withoutBathIce(); drop < 0 {
				return nil
			}
			bp.leaveUnbathed(drop)
		}
		if err := bp.accept(slices.Delete(slices.Clone(bp.result.Starts), drop, drop+1)); err != nil {
			return err
		}
	}
}

// withoutIce returns the last batch at or before the first slot in which ice to stir in is missing; −1 if none is.
func (bp *brewPlan) withoutIce() int {
	for t, lack := range bp.drink.run.lack {
		if lack < 0.5 {
			continue
		}
		found := -1
		for i := range bp.batches {
			p := &bp.batches[i]
			if p.iceG > 0 && bp.iceSlot(p) <= t && (found < 0 || bp.iceSlot(p) >= bp.iceSlot(&bp.batches[found])) {
				found = i
			}
		}
		if found >= 0 {
			return found
		}
	}
	return -1
}
