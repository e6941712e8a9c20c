package planner

import (
	"fmt"
	"slices"

	"hotday/planner/batch"
)

// stayWithin is how much more, as a share of the cost, the previous plan may cost and still be kept: a kitchen should not have to follow
// changes that gain nothing.
const stayWithin = 0.01

// keepEarlier goes back to the previous plan's batches if they still fit and cost almost the same.
func (bp *brewPlan) keepEarlier() error {
	starts := bp.earlierStarts()
	if len(starts) == 0 {
		return nil
	}
	// Evaluate returns an error if they no longer fit; the new batches stay then.
	if r, err := batch.Evaluate(bp.in, starts); err == nil && r.Objective <= bp.result.Objective*(1+stayWithin) {
		if err := bp.accept(starts); err != nil {
			return fmt.Errorf("keeping the earlier batches: %w", err)
		}
	}
	return nil
}

// earlierStarts returns the previous plan's batches still ahead that fit together, those that a replan leaves alone first.
func (bp *brewPlan) earlierStarts() []batch.Start {
	kept := bp.fixed()
	soon := len(kept)
	for i := range bp.opt.Before {
		s, ok := bp.startOf(&bp.opt.Before[i])
		if !ok || slices.Contains(kept[:soon], s) {
			continue
		}
		next := append(kept[:len(kept):len(kept)], s)
		if _, err := batch.Evaluate(bp.in, next); err == nil {
			kept = next
		}
	}
	return kept
}

// stay is the share of the cost that staying close to the previous plan may cost; 0 without one.
func (st *setting) stay() float64 {
	if len(st.opt.Before) == 0 {
		return 0
	}
	return stayWithin
}
