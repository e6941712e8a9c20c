package sheet_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/planner"
)

// BenchmarkReplanNoon plans the rest of a hot weekend anew at noon on Saturday, with what was made and sold, as a replan does
// that nobody waits for: without ways out.
func BenchmarkReplanNoon(b *testing.B) {
	d := livedFrom(b, 1.2)
	d.replanned(b, d.until(10))
	r := d.until(12)
	o := planner.Options{WithoutWaysOut: true, Before: d.plan.Batches}
	b.ReportAllocs()
	for b.Loop() {
		_, err := planner.ComputeWith(context.Background(), r, o)
		require.NoError(b, err)
	}
}
