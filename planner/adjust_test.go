package planner

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/planner/risk"
)

// costOfDays is what a plan costs on simulated days that neither chose its level nor judge it: coffee, throwing away, drinks missed.
func costOfDays(t *testing.T, j *job) float64 {
	t.Helper()
	in := j.riskInput()
	r, err := risk.Simulate(context.Background(), in, 4711, 2000)
	require.NoError(t, err)
	sum := r.ShortCost + r.WasteCost
	for b := range in.Stocks {
		for _, l := range in.Stocks[b].Lots {
			sum += j.needs.costs[b].unit * l.G
		}
	}
	for i := range j.batches {
		sum += j.req.Brewers[j.options[j.batches[i].option].brewer].BatchCost
	}
	return sum
}

func TestAdjustedLevelCostsLessOnDaysItHasNotSeen(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	r.ServiceLevelPct = nil
	j, err := plan(context.Background(), &r, Options{WithoutWaysOut: true, Budget: 100_000, Days: 20})
	require.NoError(t, err)
	require.NotEmpty(t, j.needs.byDay)
	steps := adjustSteps
	lower := 0
	for b := range j.needs.byDay {
		require.Len(t, j.needs.byDay[b], len(j.h.days))
		for _, l := range j.needs.byDay[b] {
			assert.GreaterOrEqual(t, l, stepped(j.needs.levels[b], steps[len(steps)-1])-1e-9)
			assert.LessOrEqual(t, l, stepped(j.needs.levels[b], steps[0])+1e-9)
			if l < j.needs.levels[b]-1e-9 {
				lower++
			}
		}
	}
	assert.Positive(t, lower, "what perishes within the day is worth less than the critical ratio says")

	// The same request at the critical ratio itself.
	k, err := planAtCriticalRatio(t, j)
	require.NoError(t, err)
	assert.Less(t, costOfDays(t, j), costOfDays(t, k))
}

// planAtCriticalRatio is the job's request planned at the levels from before they were adjusted.
func planAtCriticalRatio(t *testing.T, was *job) (*job, error) {
	t.Helper()
	r := *was.req
	j := &job{req: &r, opt: was.opt, h: was.h, loc: was.loc, bevIndex: was.bevIndex}
	j.weather()
	j.newIce()
	j.recipes = was.recipes
	j.needs = newNeeds(&r, j.h, j.recipes)
	for b := range j.needs.costs {
		j.needs.costs[b].freely = true // nothing to adjust by
	}
	j.underWay()
	j.openStock()
	j.buildOptions()
	return j, j.schedule(context.Background())
}

func TestAStatedServiceLevelIsNotAdjusted(t *testing.T) {
	t.Parallel()
	r := small()
	pct := 93.0
	r.ServiceLevelPct = &pct
	j, err := plan(context.Background(), &r, Options{WithoutWaysOut: true, Budget: 5000, Days: 20})
	require.NoError(t, err)
	assert.Empty(t, j.needs.byDay)
	assert.InDelta(t, 0.93, j.needs.level(0, 0), 1e-9)
}
