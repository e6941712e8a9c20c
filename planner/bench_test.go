package planner

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkComputeWeekend plans the two days of testdata/requests/weekend.json, fixes excluded.
func BenchmarkComputeWeekend(b *testing.B) {
	r := requestFrom(b, "weekend.json")
	b.ReportAllocs()
	for b.Loop() {
		_, err := ComputeWithoutFixes(context.Background(), r)
		require.NoError(b, err)
	}
}

// BenchmarkComputeWeekendWithFixes is the same with up to eight fixes computed.
func BenchmarkComputeWeekendWithFixes(b *testing.B) {
	r := requestFrom(b, "weekend.json")
	b.ReportAllocs()
	for b.Loop() {
		_, err := Compute(context.Background(), r)
		require.NoError(b, err)
	}
}

// BenchmarkComputeWeekendWithPeople is the weekend with people and baths listed, fixes excluded.
func BenchmarkComputeWeekendWithPeople(b *testing.B) {
	r := weekendWithPeople(b)
	b.ReportAllocs()
	for b.Loop() {
		p, err := ComputeWithoutFixes(context.Background(), r)
		require.NoError(b, err)
		b.ReportMetric(p.Cost.Total, "cost")
	}
}
