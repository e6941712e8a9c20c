package planner

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestABriefPlanIsAWholePlan(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	p, err := ComputeWith(t.Context(), r, Options{}.Brief())
	require.NoError(t, err)
	require.NotEmpty(t, p.Batches)
	require.NotEmpty(t, p.Warnings)
	require.Equal(t, r.Days, p.Days)
}

func TestThePlanIsTheSameWithOneGoroutineAsWithMany(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "one-day.json")
	var plans []models.Plan
	for _, n := range []int{1, 7} {
		p, err := ComputeWith(t.Context(), r, Options{Parallel: n, Days: 100})
		require.NoError(t, err)
		plans = append(plans, p)
	}
	require.Equal(t, plans[0], plans[1])
}

// BenchmarkBrief compares a brief plan with a whole one.
func BenchmarkBrief(b *testing.B) {
	r := requestFrom(b, "weekend.json")
	for name, o := range map[string]Options{"brief": Options{}.Brief(), "without fixes": {WithoutFixes: true}, "with fixes": {}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				_, err := ComputeWith(b.Context(), r, o)
				require.NoError(b, err)
			}
		})
	}
}
