package planner

import (
	"context"
	"fmt"
	"slices"

	"hotday/planner/batch"
)

// stayWithin is how much more, as a share of the cost, the previous plan may cost and still be kept: a kitchen should not have to follow
// changes that gain nothing.
const stayWithin = 0.01

// keepEarlier goes back to the previous plan's batches if they still fit and cost almost the same: on simulated days where prices say what
// a missed drink costs, else to the search.
func (bp *brewPlan) keepEarlier(ctx context.Context) error {
	earlier := bp.earlierStarts()
	if len(earlier) == 0 {
		return nil
	}
	if r, err := batch.Evaluate(bp.in, earlier); err == nil {
		return bp.keepCheaper(ctx, earlier, r.Objective)
	}
	return nil // they no longer fit; the new batches stay
}

// keepCheaper goes back to earlier batches, which cost was to the search, if they cost almost the same as the present ones.
func (bp *brewPlan) keepCheaper(ctx context.Context, earlier []batch.Start, was float64) error {
	found, now := slices.Clone(bp.result.Starts), bp.result.Objective
	if bp.req.ServiceLevelPct == nil && !slices.ContainsFunc(bp.needs.costs, func(c beverageCost) bool { return c.unpriced }) && !slices.Equal(earlier, found) {
		var err error
		if now, err = bp.mendedCost(ctx); err != nil {
			return err
		}
		if err := bp.accept(earlier); err != nil {
			return fmt.Errorf("keeping the earlier batches: %w", err)
		}
		if was, err = bp.mendedCost(ctx); err != nil {
			return err
		}
	}
	if was <= now*(1+stayWithin) {
		found = earlier
	}
	if err := bp.accept(found); err != nil {
		return fmt.Errorf("keeping the earlier batches: %w", err)
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
