package batch

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkSolve solves the largest instance of testdata/batches with limited ice, three days ahead and three beverages, lower bound
// included.
func BenchmarkSolve(b *testing.B) {
	in := load(b, "330-3-3-ice")
	b.ReportAllocs()
	for b.Loop() {
		_, err := Solve(context.Background(), in, Options{Seed: 1})
		require.NoError(b, err)
	}
}
