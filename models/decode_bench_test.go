package models

import (
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkDecodeWeekend reads the largest request of testdata, 26 kB.
func BenchmarkDecodeWeekend(b *testing.B) {
	doc, err := os.ReadFile("../testdata/requests/weekend.json")
	require.NoError(b, err)
	b.SetBytes(int64(len(doc)))
	b.ReportAllocs()
	for b.Loop() {
		var r PlanRequest
		require.NoError(b, DecodeStrict(doc, &r))
	}
}

// BenchmarkValidateWeekend checks the same request.
func BenchmarkValidateWeekend(b *testing.B) {
	doc, err := os.ReadFile("../testdata/requests/weekend.json")
	require.NoError(b, err)
	var r PlanRequest
	require.NoError(b, DecodeStrict(doc, &r))
	b.ReportAllocs()
	for b.Loop() {
		require.NoError(b, r.Validate())
	}
}

// BenchmarkDecodeSales reads a till's post of 1,000 counts, 131 kB.
func BenchmarkDecodeSales(b *testing.B) {
	doc := salesDocument(1000)
	b.SetBytes(int64(len(doc)))
	b.ReportAllocs()
	for b.Loop() {
		var p SalesPost
		require.NoError(b, DecodeStrict(doc, &p))
	}
}

// salesDocument is a post of n counts: 20 items to a window of 15 minutes.
func salesDocument(n int) []byte {
	doc := []byte(`{"source":"till-1","counts":[`)
	for i := range n {
		start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(i/20) * 15 * time.Minute)
		if i > 0 {
			doc = append(doc, ',')
		}
		doc = append(doc, `{"item":"ITEM-`...)
		doc = strconv.AppendInt(doc, int64(i%20), 10)
		doc = append(doc, `","window_start":"`...)
		doc = start.AppendFormat(doc, time.RFC3339)
		doc = append(doc, `","window_end":"`...)
		doc = start.Add(15*time.Minute).AppendFormat(doc, time.RFC3339)
		doc = append(doc, `","count":`...)
		doc = strconv.AppendInt(doc, int64(i%7), 10)
		doc = append(doc, '}')
	}
	return append(doc, "]}"...)
}
