package demand

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

func flat(n int) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = 1 / float64(n)
	}
	return s
}

func total(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s
}

func TestPathOfOneRowSpreadsItsQuantile(t *testing.T) {
	t.Parallel()
	r := Guess(60)
	path := Path([]Row{{Key: "a", Range: r, Slot: 4, Share: flat(8), G: []float64{180}}}, 20, []float64{0.8}, PathOptions{Correlation: DefaultCorrelation(), Seed: 1})
	want := 180 * r.Quantile(0.8) / 8
	for s, g := range path[0] {
		if s >= 4 && s < 12 {
			assert.InDelta(t, want, g, 1e-9)
		} else {
			assert.Zero(t, g)
		}
	}
}

func TestPathRestartsEachServiceDay(t *testing.T) {
	t.Parallel()
	rows := []Row{
		{Key: "a", Day: 0, Range: Guess(60), Slot: 0, Share: flat(4), G: []float64{1}},
		{Key: "b", Day: 1, Range: Guess(60), Slot: 10, Share: flat(4), G: []float64{1}},
	}
	path := Path(rows, 14, []float64{0.9}, PathOptions{Correlation: DefaultCorrelation()})
	q := Guess(60).Quantile(0.9)
	assert.InDelta(t, q, total(path[0][:10]), 1e-9)
	assert.InDelta(t, q, total(path[0][10:]), 1e-9)
}

// The sum of many similar rows is nearly normal, and its variance follows from the share of the day.
func TestPathOfManyRowsHasTheVarianceOfTheirSharedLevel(t *testing.T) {
	t.Parallel()
	const rows, mean, level = 12, 60.0, 0.9
	variance := NegativeBinomial{Mean: mean, Size: GuessSize}.Variance()
	for _, share := range []float64{0, 0.5, 1} {
		var in []Row
		for k := range rows {
			in = append(in, Row{Key: fmt.Sprint(k), Range: Guess(mean), Slot: k % 3, Share: flat(4), G: []float64{1}})
		}
		got := total(Path(in, 8, []float64{level}, PathOptions{Correlation: Correlation{Day: share}, Samples: 4000})[0])
		covariance := share * (variance - mean) // of two rows
		sd := math.Sqrt(rows*variance + rows*(rows-1)*covariance)
		assert.InEpsilon(t, rows*mean+z90*sd, got, 0.02, "share %v", share)
	}
}

func anyRows(t *rapid.T) []Row {
	n := rapid.IntRange(1, 8).Draw(t, "rows")
	var rows []Row
	for i := range n {
		rows = append(rows, Row{
			Key: fmt.Sprint("row ", i), Day: rapid.IntRange(0, 1).Draw(t, "day"), Range: anyRange(t),
			Share: flat(rapid.IntRange(1, 5).Draw(t, "slots")),
			G:     []float64{rapid.Float64Range(0, 300).Draw(t, "g"), rapid.Float64Range(0, 300).Draw(t, "g")},
		})
		rows[i].Slot = 12*rows[i].Day + rapid.IntRange(0, 6).Draw(t, "slot")
	}
	return rows
}

func TestPathIsNonNegativeMonotoneInTheLevelAndIndependentOfRowOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		rows := anyRows(t)
		o := PathOptions{Correlation: DefaultCorrelation(), Seed: 7, Samples: 100}
		low, high := Path(rows, 24, []float64{0.3, 0.5}, o), Path(rows, 24, []float64{0.8, 0.95}, o)
		reversed := slices.Clone(rows)
		slices.Reverse(reversed)
		again := Path(reversed, 24, []float64{0.3, 0.5}, o)
		for item := range low {
			for day := range 2 {
				a, b := 0.0, 0.0
				for s := 12 * day; s < 12*day+12; s++ {
					a += low[item][s]
					b += high[item][s]
					if !(low[item][s] >= 0) || !(high[item][s] >= 0) {
						t.Fatalf("negative increment in slot %d", s)
					}
					if a > b+1e-6*(1+b) {
						t.Fatalf("the lower level needs more by slot %d: %g, %g", s, a, b)
					}
				}
			}
			for s := range low[item] {
				if math.Abs(low[item][s]-again[item][s]) > 1e-9*(1+low[item][s]) {
					t.Fatalf("the order of the rows changes slot %d", s)
				}
			}
		}
	})
}

func TestScoresOfAKeyAreIndependentOfOtherKeys(t *testing.T) {
	t.Parallel()
	a, b := make([]float64, 50), make([]float64, 50)
	NewScores(3, 50).Draw("row", a)
	s := NewScores(3, 50)
	s.Draw("other", b)
	assert.NotEqual(t, a, b)
	s.Draw("row", b)
	assert.Equal(t, a, b)
	assert.InDelta(t, 0, total(a), 1e-9, "stratified")
	days := NewScores(1, 4000).DrawDays("day", 2, 0.4)
	c := 0.0
	for i := range days[0] {
		c += days[0][i] * days[1][i] / 4000
	}
	assert.InDelta(t, 0.4, c, 0.04)
}

func TestQuantilesMatchThoseOfSortedValues(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.SliceOfN(rapid.Float64Range(-5, 5), 1, 200).Draw(t, "values")
		sorted := slices.Clone(v)
		slices.Sort(sorted)
		reference := func(level float64) float64 {
			x := math.Min(math.Max(0, level*float64(len(v))-0.5), float64(len(v)-1))
			i := int(x)
			if i == len(v)-1 {
				return sorted[i]
			}
			return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
		}
		level := rapid.Float64Range(0, 1).Draw(t, "level")
		if q := QuantileOf(slices.Clone(v), level); math.Abs(q-reference(level)) > 1e-12 {
			t.Fatalf("%g, want %g", q, reference(level))
		}
		a, b, c := Deciles(slices.Clone(v))
		for i, q := range []float64{a, b, c} {
			if l := []float64{0.1, 0.5, 0.9}[i]; math.Abs(q-reference(l)) > 1e-12 {
				t.Fatalf("decile %g: %g, want %g", l, q, reference(l))
			}
		}
	})
}

func weekendRows() []Row {
	var rows []Row
	for d := range 2 {
		for part := range 5 {
			for k := range 12 {
				g := make([]float64, 5)
				g[k%4], g[4] = 180, 140
				rows = append(rows, Row{Key: fmt.Sprint(d, part, k), Day: d, Range: Guess(float64(5 + 3*k)), Slot: 60 + 96*d + 10*part, Share: flat(10), G: g})
			}
		}
	}
	return rows
}

// Two days of 12 drinks in 5 day parts, with 4 beverages and serving ice.
func BenchmarkPathOfAWeekend(b *testing.B) {
	rows := weekendRows()
	b.ReportAllocs()
	for b.Loop() {
		Path(rows, 228, []float64{0.8, 0.8, 0.8, 0.8, 0.95}, PathOptions{Correlation: DefaultCorrelation()})
	}
}

func BenchmarkNegativeBinomialQuantile(b *testing.B) {
	d := NegativeBinomial{Mean: 55, Size: 25}
	for b.Loop() {
		d.Quantile(0.93)
	}
}

func TestPathTakesTheLevelOfItsDayAndItem(t *testing.T) {
	t.Parallel()
	rows := []Row{
		{Key: "a", Day: 0, Range: Guess(60), Slot: 0, Share: flat(4), G: []float64{1, 1}},
		{Key: "b", Day: 1, Range: Guess(60), Slot: 10, Share: flat(4), G: []float64{1}},
	}
	path := Path(rows, 14, []float64{0.9, 0.9}, PathOptions{Correlation: DefaultCorrelation(), ByDay: [][]float64{{0.3}}})
	q := Guess(60).Quantile
	assert.InDelta(t, q(0.3), total(path[0][:10]), 1e-9, "of day 0 and item 0")
	assert.InDelta(t, q(0.9), total(path[0][10:]), 1e-9, "other days keep theirs")
	assert.InDelta(t, q(0.9), total(path[1][:10]), 1e-9, "and other items")
	assert.Zero(t, total(path[1][10:]), "an item that the row does not use")
}

func TestPathIgnoresRowsOutsideTheDaysAndSlotsOutsideTheHorizon(t *testing.T) {
	t.Parallel()
	rows := []Row{
		{Key: "before", Day: -1, Range: Guess(60), Share: flat(4), G: []float64{1}},
		{Key: "none", Day: 0, Range: Range{}, Share: flat(4), G: []float64{1}},
		{Key: "half", Day: 0, Range: Guess(60), Slot: 6, Share: flat(4), G: []float64{1}},
	}
	path := Path(rows, 8, []float64{0.8}, PathOptions{Correlation: DefaultCorrelation()})
	assert.InDelta(t, Guess(60).Quantile(0.8)/2, total(path[0]), 1e-9)
}
