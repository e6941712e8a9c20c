package forecast

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// readTable reads a table of numbers written by testdata/tables.py.
func readTable(t *testing.T, file string) [][]float64 {
	t.Helper()
	f, err := os.Open("testdata/" + file)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	var out [][]float64
	for _, row := range rows[1:] {
		numbers := make([]float64, len(row))
		for i, s := range row {
			numbers[i], err = strconv.ParseFloat(s, 64)
			require.NoError(t, err)
		}
		out = append(out, numbers)
	}
	require.NotEmpty(t, out)
	return out
}

func TestRegressionMatchesStatsmodels(t *testing.T) {
	t.Parallel()
	var s seriesRows
	for _, p := range readHistory(t, "yaz.csv") {
		if p.Drink != "koefte" || !p.Open {
			continue
		}
		row := [10]float32{0: 1, 7: float32((*p.TempC - 12) / 10), 8: float32(math.Log1p(*p.RainMM)), 9: float32(indicator(p.Holiday))}
		if d := (int(p.Date.Weekday()) + 6) % 7; d > 0 {
			row[d] = 1
		}
		s.x, s.y, s.weight = append(s.x, row[:]...), append(s.y, *p.Demand), append(s.weight, 1)
	}
	n := newNewton(10)
	b := make([]float64, 10)
	for range 3 { // beyond the tolerance of one solve
		n.solve([]seriesRows{s}, b, 0)
	}
	n.accumulate([]seriesRows{s}, b, true)
	require.True(t, n.chol.Factorize(mat.NewSymDense(10, n.h)))
	var inverse mat.SymDense
	require.NoError(t, n.chol.InverseTo(&inverse))
	for i, want := range readTable(t, "glm.csv") {
		require.InDelta(t, want[0], b[i], 1e-5, "coefficient %d", i)
		require.InDelta(t, want[1], math.Sqrt(inverse.At(i, i)), 1e-6, "standard error %d", i)
	}
}

func TestPinballLossMatchesScikitLearn(t *testing.T) {
	t.Parallel()
	for _, row := range readTable(t, "pinball.csv") {
		loss := 0.0
		for y := range 10 {
			loss += pinball(row[0], float64(y), 5) / 10
		}
		require.InDelta(t, row[1], loss, 1e-9)
	}
}

// Rounded quantiles of means up to 60 equal those of the distribution; above, the gamma is close.
func TestNegativeBinomialQuantilesMatchScipy(t *testing.T) {
	t.Parallel()
	for _, row := range readTable(t, "counts.csv") {
		mean, spread, level, want := row[0], row[1], row[2], row[3]
		var q [gridSize]float64
		negativeBinomial(mean, spread, q[:])
		got := quantileAt(q[:], level)
		if mean <= 60 {
			require.LessOrEqual(t, math.Abs(got-want), .5+1e-9, "mean %g spread %g level %g: %g, %g", mean, spread, level, got, want)
		} else {
			require.InEpsilon(t, want, got, .012, "mean %g spread %g level %g", mean, spread, level)
		}
	}
}

// The coverage of the 10 to 90 % range of a distribution, with half of its edges, equals scipy's.
func TestCoverageMatchesScipy(t *testing.T) {
	t.Parallel()
	for _, row := range readTable(t, "coverage.csv") {
		mean, spread, want := row[0], row[1], row[2]
		var q [gridSize]float64
		negativeBinomial(mean, spread, q[:])
		lo, hi := math.Round(q[p10Index]), math.Round(q[p90Index])
		size := 1 / spread
		in, p := 0.0, math.Exp(size*math.Log(size/(size+mean)))
		for n := 0.0; n < 2000; n++ {
			in += p * (indicator(n > lo) + indicator(n >= lo)) / 2 * (indicator(n < hi) + indicator(n <= hi)) / 2
			p *= (size + n) / (n + 1) * mean / (size + mean)
		}
		require.InDelta(t, want, in, .012, "mean %g spread %g", mean, spread) // above a mean of 60 the gamma is only close
	}
}

// Twice the mean pinball loss over all levels is the continuous ranked probability score: for the standard normal at y it is
// y(2Φ(y) − 1) + 2φ(y) − 1/√π (Gneiting and Raftery 2007, from memory).
func TestPinballLossOverAllLevelsIsTheCRPS(t *testing.T) {
	t.Parallel()
	for _, y := range []float64{-2, 0, .7, 3} {
		const n = 20_000
		sum := 0.0
		for i := range n {
			l := (float64(i) + .5) / n
			sum += 2 * pinball(l, y, normalQuantile(l)) / n
		}
		phi, density := .5*math.Erfc(-y/math.Sqrt2), math.Exp(-y*y/2)/math.Sqrt(2*math.Pi)
		require.InDelta(t, y*(2*phi-1)+2*density-1/math.Sqrt(math.Pi), sum, 1e-3)
	}
}

// Counts generated from the model.
func TestRangesHaveTheirNominalCoverage(t *testing.T) {
	t.Parallel()
	past, _ := shop(5, 330, 0, 11)
	in, n := 0.0, 0.0
	start := 274
	if testing.Short() {
		start = 302
	}
	for from := start; from < 330; from += 7 {
		var rows []Ahead
		actual := map[string]float64{}
		for _, p := range past {
			if k := past[0].Date.DaysUntil(p.Date); p.Open && k >= from && k < from+7 {
				rows = append(rows, p.Ahead)
				actual[p.Drink+string(p.Date)] = *p.Demand
			}
		}
		a := forecastOf(t, Document{History: upTo(past, from), Ahead: rows, Levels: []float64{.1, .9}})
		for _, r := range a.Rows {
			y := actual[r.Drink+string(r.Date)]
			in += (indicator(y > r.Quantiles[0]) + indicator(y >= r.Quantiles[0])) / 2 * (indicator(y < r.Quantiles[1]) + indicator(y <= r.Quantiles[1])) / 2
			n++
		}
	}
	require.InDelta(t, .8, in/n, .08, "of %.0f days", n)
}
