package planner

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"hotday/models"
	"hotday/planner/batch"
	"hotday/planner/cores"
	"hotday/planner/risk"
)

// shift is how far a batch is moved to find the cost of moving it.
const shift = 30 * time.Minute

// maxOtherwise bounds batches × slots of the plans that get these figures, which are secondary to the plan.
const maxOtherwise = 20_000

// otherwiseDays is the number of Monte Carlo days of these figures: the same days for the plan and for each alternative, so that few
// show the difference.
const otherwiseDays = 200

// addOtherwise adds the cost of moving each batch to the plan's batches, and to the choices that have them.
func (res *result) addOtherwise(ctx context.Context) error {
	list, err := res.otherwise(ctx)
	if err != nil {
		return err
	}
	planned := res.plan.Batches[len(res.plan.Batches)-len(list):] // those under way come first
	for i := range planned {
		planned[i].Otherwise = list[i]
		for k := range res.plan.Choices {
			if c := &res.plan.Choices[k]; c.ID == planned[i].Choice {
				c.Options[c.Default].Batch.Otherwise = list[i]
			}
		}
	}
	return nil
}

// otherwise returns the expected cost of having each planned batch half an hour earlier, half an hour later, or not at all, everything
// else unchanged: the loads of ice, the water and the other batches. Like the fixes, it is only for a person waiting for the plan.
func (dr *draft) otherwise(ctx context.Context) ([][]models.Otherwise, error) {
	out := make([][]models.Otherwise, len(dr.batches))
	if len(out) == 0 || len(out)*dr.h.n > maxOtherwise {
		return out, nil
	}
	days := min(dr.days(), otherwiseDays)
	now, err := dr.costOn(ctx, risk.Draw(dr.req.Seed, days))
	if err != nil {
		return nil, err
	}
	next := make(chan int, len(out))
	for i := range out {
		next <- i
	}
	close(next)
	errs := make([]error, len(out))
	step := max(1, int(shift/dr.h.slot))
	var wg sync.WaitGroup
	for range min(len(out), cores.Machine()) {
		wg.Go(func() {
			drawn := risk.Draw(dr.req.Seed, days) // the same in each worker, as they are not safe for concurrent use
			for i := range next {
				without := slices.Delete(slices.Clone(dr.result.Starts), i, i+1)
				earlier, starts := dr.moved("earlier", i, -step)
				later, then := dr.moved("later", i, step)
				out[i] = []models.Otherwise{earlier, later, {Change: "left_out"}}
				for k, s := range [][]batch.Start{starts, then, without} {
					if out[i][k].Not == "" && errs[i] == nil {
						errs[i] = dr.priced(ctx, &out[i][k], s, drawn, now)
					}
				}
			}
		})
	}
	wg.Wait()
	return out, errors.Join(errs...)
}

// moved returns the starts with batch i moved by a number of slots; Not says why that is impossible.
func (bp *brewPlan) moved(change string, i, by int) (models.Otherwise, []batch.Start) {
	o := models.Otherwise{Change: change}
	p := &bp.batches[i]
	option := &bp.options[p.option]
	slot := p.slot + by
	hands := 0
	for k := range bp.batches {
		q := &bp.batches[k]
		other := &bp.options[q.option]
		if k == i {
			continue
		}
		if q.slot == slot {
			hands++
		}
		if other.brewer == option.brewer && slot < q.slot+other.busySlots && q.slot < slot+option.busySlots {
			o.Not = bp.q.Say("plan.brewer_busy")
			return o, nil
		}
	}
	switch {
	case slot < 0 || slot >= bp.h.n || !option.may[slot]:
		o.Not = bp.q.Say("plan.not_there")
		return o, nil
	case hands >= bp.in.SlotStarts[slot]:
		o.Not = bp.q.Say("plan.no_hands")
		return o, nil
	}
	switch work, bath := bp.shortOf(option, slot, i); {
	case work:
		o.Not = bp.q.Say("hands.no_time")
		return o, nil
	case bath:
		o.Not = bp.q.Say("hands.no_bath")
		return o, nil
	}
	starts := slices.Clone(bp.result.Starts)
	starts[i].StartSlot = slot
	return o, starts
}

// priced sets the difference in expected cost of the plan with other starts.
func (dr *draft) priced(ctx context.Context, o *models.Otherwise, starts []batch.Start, days *risk.Days, now float64) error {
	r, err := batch.Evaluate(dr.in, starts)
	if err != nil { // brewer and hands are free, so it is water, beans, the store or the ice
		o.Not = dr.q.Say("plan.no_room")
		if dr.in.OverLimit(starts) != "" {
			o.Not = dr.q.Say("plan.no_supply")
		}
		return nil
	}
	bp := *dr.brewPlan
	bp.result, bp.batches = r, nil
	bp.batches = bp.plannedBatches(r)
	changed := *dr
	changed.brewPlan = &bp
	then, err := changed.costOn(ctx, days)
	if err != nil {
		return err
	}
	o.Cost = then - now
	return nil
}

// costOn is the expected cost on drawn days.
func (dr *draft) costOn(ctx context.Context, days *risk.Days) (float64, error) {
	r, err := days.Simulate(ctx, dr.riskInput(dr.water))
	if err != nil {
		return 0, err
	}
	on := *dr
	on.outlook = &r
	return on.expected().Cost.Total, nil
}
