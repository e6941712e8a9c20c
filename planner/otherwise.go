package planner

import (
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/batch"
)

// shift is how far a batch is moved to find the cost of moving it.
const shift = 30 * time.Minute

// maxOtherwise bounds batches × slots of the plans that get these figures, which are secondary to the plan.
const maxOtherwise = 20_000

// otherwise returns the cost of having each planned batch half an hour earlier, half an hour later, or not at all, everything else
// unchanged. Like the fixes, it is only for a person waiting for the plan.
func (bp *brewPlan) otherwise() [][]models.Otherwise {
	out := make([][]models.Otherwise, len(bp.batches))
	if bp.opt.WithoutFixes || len(out)*bp.h.n > maxOtherwise {
		return out
	}
	step := max(1, int(shift/bp.h.slot))
	for i := range bp.batches {
		without := slices.Delete(slices.Clone(bp.result.Starts), i, i+1)
		out[i] = []models.Otherwise{bp.moved("earlier", i, -step), bp.moved("later", i, step), bp.priced(models.Otherwise{Change: "left_out"}, without)}
	}
	return out
}

func (bp *brewPlan) moved(change string, i, by int) models.Otherwise {
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
			return o
		}
	}
	switch {
	case slot < 0 || slot >= bp.h.n || !option.may[slot]:
		o.Not = bp.q.Say("plan.not_there")
		return o
	case hands >= bp.in.SlotStarts[slot]:
		o.Not = bp.q.Say("plan.no_hands")
		return o
	}
	starts := slices.Clone(bp.result.Starts)
	starts[i].StartSlot = slot
	return bp.priced(o, starts)
}

func (bp *brewPlan) priced(o models.Otherwise, starts []batch.Start) models.Otherwise {
	r, err := batch.Evaluate(bp.in, starts)
	if err != nil { // brewer and hands are free, so it is water, beans or the store
		o.Not = bp.q.Say("plan.no_room")
		if bp.in.OverLimit(starts) != "" {
			o.Not = bp.q.Say("plan.no_supply")
		}
		return o
	}
	o.Cost = r.Objective - bp.result.Objective
	return o
}
