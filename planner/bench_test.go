package planner

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkComputeWeekend plans the two days of testdata/requests/weekend.json, ways out excluded.
func BenchmarkComputeWeekend(b *testing.B) {
	r := requestFrom(b, "weekend.json")
	b.ReportAllocs()
	for b.Loop() {
		_, err := ComputeWithoutWaysOut(context.Background(), r)
		require.NoError(b, err)
	}
}

// BenchmarkComputeWeekendWithWaysOut is the same with up to eight ways out computed.
func BenchmarkComputeWeekendWithWaysOut(b *testing.B) {
	r := requestFrom(b, "weekend.json")
	b.ReportAllocs()
	for b.Loop() {
		_, err := Compute(context.Background(), r)
		require.NoError(b, err)
	}
}
