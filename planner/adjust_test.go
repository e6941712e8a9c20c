package planner

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/planner/risk"
)

// costOfDays is what a plan costs on simulated days that neither chose its level nor judge it: coffee, throwing away, drinks missed.
func costOfDays(t *testing.T, bp *brewPlan) float64 {
	t.Helper()
	in := bp.riskInput(nil)
	r, err := risk.Simulate(context.Background(), in, 4711, 2000)
	require.NoError(t, err)
	sum := 0.0
	for _, day := range r.Sales {
		for j, s := range day {
			sum += bp.needs.missedCost(j, s)
		}
	}
	for b := range in.Stocks {
		sum += bp.needs.costs[b].disposal * r.WasteG[b]
		for _, l := range in.Stocks[b].Lots {
			sum += bp.needs.costs[b].unit * l.G
		}
	}
	for i := range bp.batches {
		sum += bp.req.Brewers[bp.options[bp.batches[i].option].brewer].BatchCost
	}
	return sum
}

func TestAdjustedLevelCostsLessOnDaysItHasNotSeen(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	r.ServiceLevelPct = nil
	res, err := compute(context.Background(), &r, Options{WithoutFixes: true, Budget: 300_000, Days: 20})
	require.NoError(t, err)
	require.NotEmpty(t, res.needs.byDay)
	lowest, highest := commonSteps[len(commonSteps)-1], 4.0
	lower := 0
	for b := range res.needs.byDay {
		require.Len(t, res.needs.byDay[b], len(res.h.days))
		for _, l := range res.needs.byDay[b] {
			assert.GreaterOrEqual(t, l, stepped(res.needs.levels[b], lowest)-1e-9)
			assert.LessOrEqual(t, l, stepped(res.needs.levels[b], highest)+1e-9)
			if l < res.needs.levels[b]-1e-9 {
				lower++
			}
		}
	}
	assert.Positive(t, lower, "what perishes within the day is worth less than the critical ratio says")

	// The same request at the critical ratio itself.
	k, err := planAtCriticalRatio(t, res.brewPlan)
	require.NoError(t, err)
	assert.Less(t, costOfDays(t, res.brewPlan), costOfDays(t, k))
}

// planAtCriticalRatio plans the batches of the same kitchen at the levels before they are adjusted.
func planAtCriticalRatio(t *testing.T, was *brewPlan) (*brewPlan, error) {
	t.Helper()
	drink, plain := openIce(was.setting, was.air)
	needs := newNeeds(was.req, was.h, was.recipes)
	for b := range needs.costs {
		needs.costs[b].unpriced = true // nothing to adjust by
	}
	return planBatches(context.Background(), was.kitchen, needs, drink, plain)
}

func TestAStatedServiceLevelIsNotAdjusted(t *testing.T) {
	t.Parallel()
	r := small()
	pct := 93.0
	r.ServiceLevelPct = &pct
	res, err := compute(context.Background(), &r, Options{WithoutFixes: true, Budget: 5000, Days: 20})
	require.NoError(t, err)
	assert.Empty(t, res.needs.byDay)
	assert.InDelta(t, 0.93, res.needs.level(0, 0), 1e-9)
}
