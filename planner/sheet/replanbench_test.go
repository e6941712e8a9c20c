package sheet_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/planner"
)

// BenchmarkReplanNoon replans the rest of a hot weekend at noon on Saturday, given what was made and sold and the choices of the plan
// before, without fixes, as a replan in the background does.
func BenchmarkReplanNoon(b *testing.B) {
	d := workedFrom(b, 1.2)
	d.replanned(b, d.until(10))
	r := d.until(12)
	o := planner.Options{WithoutFixes: true, Before: d.plan.Batches, ChoicesBefore: d.plan.Choices, BeforeAt: d.plan.ComputedAt}
	b.ReportAllocs()
	for b.Loop() {
		_, err := planner.ComputeWith(context.Background(), r, o)
		require.NoError(b, err)
	}
}
