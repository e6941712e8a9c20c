package planner

import (
	"fmt"

	"hotday/planner/batch"
)

// almost is how much dearer, as a part of the cost, the earlier plan may be and still be kept: a kitchen hates a plan that
// jumps for nothing.
const almost = 0.005

// keepEarlier goes back to the batches of the plan before where they still fit and cost almost the same.
func (bp *brewPlan) keepEarlier() error {
	starts := bp.earlierStarts()
	if len(starts) == 0 {
		return nil
	}
	// Batches that fit no more are an error of Evaluate: then the new ones stand.
	if r, err := batch.Evaluate(bp.in, starts); err == nil && r.Objective <= bp.result.Objective*(1+almost) {
		if starts, err = bp.weigh(starts); err != nil {
			return fmt.Errorf("keeping the earlier batches: %w", err)
		}
		bp.take(starts)
		bp.drink.choose()
	}
	return nil
}

// earlierStarts are the batches of the plan before that lie ahead and still go together, in their order.
func (bp *brewPlan) earlierStarts() []batch.Start {
	var kept []batch.Start
	for i := range bp.opt.Before {
		b := &bp.opt.Before[i]
		slot := bp.h.slotOf(b.Start)
		if slot < 0 || slot >= bp.h.n || !bp.h.at(slot).Equal(b.Start) {
			continue
		}
		next := append(kept[:len(kept):len(kept)], batch.Start{Brewer: b.Brewer, Beverage: b.Beverage, StartSlot: slot, G: b.BeverageG})
		if _, err := batch.Evaluate(bp.in, next); err == nil {
			kept = next
		}
	}
	return kept
}

// stay is the share of the cost that keeping to the plan before may cost; 0 where there is none.
func (st *setting) stay() float64 {
	if len(st.opt.Before) == 0 {
		return 0
	}
	return almost
}
