package api

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// The fast parser accepts nothing that the strict decoder refuses, and both decode the same values.
func FuzzFastSalesParserAgreesWithStrict(f *testing.F) {
	for _, seed := range []string{
		`{"source":"till","counts":[{"item":"A","window_start":"2026-07-10T10:00:00+02:00","window_end":"2026-07-10T10:15:00.5Z","count":3.5}]}`,
		`{"counts":[],"source":""}`,
		`{"source":"till","counts":null}`,
		`{"source":"till","counts":[{"item":"A","item":"B","window_start":"2026-07-10T10:00:00Z","window_end":"2026-07-10T10:15:00Z","count":3}]}`,
		`{"source":"\ud800","counts":[{"item":"A\u00e9","window_start":"2026-07-10T10:00:00,5Z","window_end":"2026-07-10T10:15:00Z","count":1e999}]}`,
		`{"source":"till","Counts":[]}`,
		`{"source":"till","counts":[]} x`,
		`{"source":"till","counts":[{"item":"A","window_start":"2026-07-10T10:00:00Z","window_end":"2026-07-10T10:15:00Z","count":-0}]}`,
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		fast, ok := parseSalesFast(data)
		if !ok {
			return
		}
		var strict models.SalesPost
		require.NoError(t, models.DecodeStrict(data, &strict))
		require.Equal(t, strict.Source, fast.Source)
		require.Len(t, fast.Counts, len(strict.Counts))
		for i := range strict.Counts {
			a, b := strict.Counts[i], fast.Counts[i]
			require.Equal(t, a.Item, b.Item)
			require.InDelta(t, a.Count, b.Count, 0)
			require.True(t, a.WindowStart.Equal(b.WindowStart) && a.WindowEnd.Equal(b.WindowEnd))
		}
	})
}

func TestFastSalesParserAcceptsTheCommonCase(t *testing.T) {
	t.Parallel()
	_, ok := parseSalesFast([]byte(` {"source":"till","counts":[{"count":3,"item":"A","window_end":"2026-07-10T10:15:00Z","window_start":"2026-07-10T10:00:00Z"}]} `))
	require.True(t, ok)
}
