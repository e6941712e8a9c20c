package facts

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

func counted(from, to int, n float64) models.SalesRow {
	t0 := time.Date(2026, 7, 11, 8, 0, 0, 0, time.UTC)
	drink := "glass"
	return models.SalesRow{Source: "till", Drink: &drink, Factor: 1, SalesCount: models.SalesCount{Item: "G",
		WindowStart: t0.Add(time.Duration(from) * time.Minute), WindowEnd: t0.Add(time.Duration(to) * time.Minute), Count: n}}
}

func TestTheShorterOfOverlappingWindowsWins(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		windows []models.SalesRow
		quarter [4]float64 // servings by quarter of the hour
	}{
		"one hour alone is even":                      {[]models.SalesRow{counted(0, 60, 8)}, [4]float64{2, 2, 2, 2}},
		"quarters that meet stay":                     {[]models.SalesRow{counted(15, 30, 4), counted(0, 15, 1)}, [4]float64{1, 4, 0, 0}},
		"an hour adds what it has beyond the quarter": {[]models.SalesRow{counted(0, 60, 8), counted(15, 30, 5)}, [4]float64{1, 5, 1, 1}},
		"never below zero":                            {[]models.SalesRow{counted(0, 60, 3), counted(15, 30, 5)}, [4]float64{0, 5, 0, 0}},
		"an hour that is covered adds nothing":        {[]models.SalesRow{counted(0, 60, 99), counted(0, 30, 2), counted(30, 60, 4)}, [4]float64{1, 1, 2, 2}},
		"three deep":                                  {[]models.SalesRow{counted(0, 60, 12), counted(0, 30, 6), counted(0, 15, 5)}, [4]float64{5, 1, 3, 3}},
		"a quarter half covered by a shorter window":  {[]models.SalesRow{counted(0, 30, 6), counted(15, 35, 10)}, [4]float64{0, 7.5, 2.5, 0}},
		"a window across the edge counts in part":     {[]models.SalesRow{counted(-60, 30, 9)}, [4]float64{1.5, 1.5, 0, 0}},
	} {
		got := disjoint(c.windows)
		for i, want := range c.quarter {
			sum := 0.0
			for _, s := range got {
				sum += s.within(models.Span{From: counted(15*i, 0, 0).WindowStart, To: counted(15*i+15, 0, 0).WindowStart})
			}
			require.InDelta(t, want, sum, 1e-9, "%s: quarter %d of %v", name, i, got)
		}
	}
}

func TestDisjointSalesNeverOverlapAndCountNoLessThanTheLargestWindow(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		var windows []models.SalesRow
		total, largest := 0.0, 0.0
		for range rapid.IntRange(1, 12).Draw(t, "n") {
			from := rapid.IntRange(0, 50).Draw(t, "from")
			w := counted(from, from+rapid.IntRange(1, 30).Draw(t, "length"), float64(rapid.IntRange(0, 20).Draw(t, "count")))
			w.Factor = 0.5
			windows = append(windows, w)
			total += w.Count / 2
		}
		got := disjoint(windows)
		sum := 0.0
		for i, s := range got {
			require.True(t, s.span.From.Before(s.span.To))
			require.GreaterOrEqual(t, s.servings, 0.0)
			sum += s.servings
			for _, o := range got[:i] {
				require.True(t, o.span.Overlap(s.span).Empty(), "%v and %v", o, s)
			}
		}
		shortest := time.Hour
		for _, w := range windows {
			shortest = min(shortest, w.WindowEnd.Sub(w.WindowStart))
		}
		for _, w := range windows {
			if w.WindowEnd.Sub(w.WindowStart) == shortest {
				largest = max(largest, w.Count/2)
			}
		}
		require.LessOrEqual(t, sum, total+1e-9, "nothing is counted twice")
		if len(windows) == 1 {
			require.InDelta(t, largest, sum, 1e-9)
		}
	})
}
