package planner

import (
	"cmp"
	"context"
	"slices"

	"hotday/planner/batch"
)

// mostEarnTries is the number of changed schedules that dropIdle simulates.
const mostEarnTries = 6

// dropIdle leaves out batches, the smallest first, that do not earn their own cost, which counts the labour: where the schedule without
// one, or with the batch before or after it larger instead, costs less on simulated days. The search serves one path of demand and cannot
// see that what a small batch adds is seldom sold.
func (bp *brewPlan) dropIdle(ctx context.Context) error {
	cost, err := bp.simulatedCost(ctx)
	if err != nil {
		return err
	}
	kept := map[batch.Start]bool{}
	for tries := 0; tries < mostEarnTries; {
		i := bp.smallest(kept)
		if i < 0 {
			return nil
		}
		kept[bp.result.Starts[i]] = true
		for _, next := range bp.withoutBatch(i) {
			if _, err := batch.Evaluate(bp.in, next); err != nil {
				continue // a larger batch does not fit
			}
			tries++
			better, err := bp.cheaper(ctx, next, &cost)
			if err != nil {
				return err
			}
			if better {
				break
			}
		}
	}
	return nil
}

// smallest returns the batch that is smallest, as a share of the largest its brewer can make, of those not yet in seen; −1 if there is
// none of less than half.
func (bp *brewPlan) smallest(seen map[batch.Start]bool) int {
	best, least := -1, 0.5
	for i := range bp.batches {
		p := &bp.batches[i]
		if share := p.g / bp.options[p.option].hi; share < least && !seen[bp.result.Starts[i]] {
			best, least = i, share
		}
	}
	return best
}

// withoutBatch returns the starts without batch i, and with its neighbours of the same beverage larger by it.
func (bp *brewPlan) withoutBatch(i int) [][]batch.Start {
	starts := bp.result.Starts
	without := slices.Delete(slices.Clone(starts), i, i+1)
	out := [][]batch.Start{without}
	var same []int // of without, in order of time
	for k := range without {
		if without[k].Beverage == starts[i].Beverage {
			same = append(same, k)
		}
	}
	slices.SortStableFunc(same, func(a, b int) int { return cmp.Compare(without[a].StartSlot, without[b].StartSlot) })
	n, _ := slices.BinarySearchFunc(same, starts[i].StartSlot, func(k, slot int) int { return cmp.Compare(without[k].StartSlot, slot) })
	for _, m := range []int{n - 1, n} {
		if m < 0 || m >= len(same) {
			continue
		}
		s := without[same[m]]
		if g := bp.options[bp.optionOf(s)].sizeUpTo(s.G + starts[i].G); g > s.G {
			next := slices.Clone(without)
			next[same[m]].G = g
			out = append(out, next)
		}
	}
	return out
}

// cheaper makes the starts the schedule if it costs less on simulated days than cost, which it then sets, and reports whether it does.
func (bp *brewPlan) cheaper(ctx context.Context, starts []batch.Start, cost *float64) (bool, error) {
	was := slices.Clone(bp.result.Starts)
	if err := bp.accept(starts); err != nil {
		return false, err
	}
	c, err := bp.mendedCost(ctx)
	if err != nil {
		return false, err
	}
	if c < *cost {
		*cost = c
		return true, nil
	}
	return false, bp.accept(was)
}
