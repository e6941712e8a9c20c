package demand

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

// readTable reads a table of numbers below a comment line and a header.
func readTable(t *testing.T, path string) [][]float64 {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	require.NoError(t, err)
	var out [][]float64
	for _, row := range rows[1:] {
		var v []float64
		for _, cell := range row {
			x, err := strconv.ParseFloat(cell, 64)
			require.NoError(t, err)
			v = append(v, x)
		}
		out = append(out, v)
	}
	require.NotEmpty(t, out)
	return out
}

func TestNegativeBinomialMatchesScipy(t *testing.T) {
	t.Parallel()
	for _, row := range readTable(t, "testdata/negative_binomial.csv") {
		d := NegativeBinomial{Mean: row[0], Size: row[1]}
		assert.Equal(t, row[3], d.Quantile(row[2]), "mean %g size %g level %g", row[0], row[1], row[2])
		assert.InDelta(t, row[4], d.CDF(row[3]), 1e-8, "mean %g size %g k %g", row[0], row[1], row[3])
	}
}

func TestOverrideWithARangeIsASplitLogNormal(t *testing.T) {
	t.Parallel()
	for _, row := range readTable(t, "testdata/split_lognormal.csv") {
		r := FromOverride(models.Demand{Expected: row[1], P10: &row[0], P90: &row[2]}, nil)
		assert.InEpsilon(t, row[4], r.Quantile(row[3]), 1e-9, "%v", row)
		assert.InEpsilon(t, row[5], r.Mean(), 1e-5, "%v", row)
		assert.Equal(t, row[:3], []float64{r.P10(), r.P50(), r.P90()}, "the given values to the last digit")
		assert.InEpsilon(t, r.Mean(), r.Table().Mean(), 1e-9)
	}
}

func TestOverrideEdgeCases(t *testing.T) {
	t.Parallel()
	none := FromOverride(models.Demand{}, &models.Forecast{Mean: 10, Levels: []float64{0.5, 0.9}, Quantiles: []float64{9, 14}})
	assert.Zero(t, none.Mean())
	assert.Zero(t, none.P90())
	assert.Zero(t, none.Sample(0.999))

	zero := FromOverride(models.Demand{Expected: 40, P10: new(0.0), P90: new(70.0)}, nil)
	assert.Equal(t, 2.0, zero.P10(), "a p10 of 0 becomes 5 % of the expectation")
	assert.Equal(t, 70.0, zero.P90())

	extreme := FromOverride(models.Demand{Expected: 1, P10: new(1e-9), P90: new(1e6)}, nil)
	for _, x := range []float64{extreme.Mean(), extreme.Quantile(1), extreme.Table().Variance()} {
		assert.False(t, math.IsNaN(x) || math.IsInf(x, 0))
	}
}

func TestOverrideWithoutARangeHasTheForecastsSpreadOrAGuess(t *testing.T) {
	t.Parallel()
	f := models.Forecast{Mean: 50, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{40, 50, 60}, Basis: "26 Saturdays"}
	r := FromOverride(models.Demand{Expected: 100}, &f)
	assert.InDelta(t, 100, r.Mean(), 1e-9)
	assert.InDelta(t, 80, r.P10(), 1e-9)
	assert.InDelta(t, 120, r.P90(), 1e-9)
	assert.Equal(t, OverrideForecastSpread, r.Basis())

	guess := FromOverride(models.Demand{Expected: 100}, nil)
	assert.Equal(t, OverrideGuess, guess.Basis())
	assert.Equal(t, OverrideGuess, guess.Scaled(.5).Basis(), "kept when scaled")
	assert.Equal(t, OverrideNone, FromOverride(models.Demand{}, &f).Basis())
	assert.Equal(t, NegativeBinomial{Mean: 100, Size: 25}.Quantile(0.9), guess.P90())
	assert.InDelta(t, 100+0.04*100*100, NegativeBinomial{Mean: 100, Size: GuessSize}.Variance(), 1e-9)
}

func TestForecastRowKeepsItsQuantilesAndMean(t *testing.T) {
	t.Parallel()
	f := models.Forecast{Mean: 52, Levels: []float64{0.9, 0.1, 0.5}, Quantiles: []float64{66, 40, 51}}
	r := FromForecast(f)
	assert.Equal(t, []float64{40, 51, 66}, []float64{r.P10(), r.P50(), r.P90()}, "in any order")
	assert.InDelta(t, 52, r.Mean(), 0)
	assert.InDelta(t, 52, r.Table().Mean(), 1e-9)
	assert.Greater(t, r.Quantile(0.99), 66.0)
	assert.Less(t, r.Quantile(0.999), 130.0)

	assert.Zero(t, FromForecast(models.Forecast{Levels: []float64{0.5}, Quantiles: []float64{0}}).P90())
	one := FromForecast(models.Forecast{Mean: 20, Levels: []float64{0.5}, Quantiles: []float64{19}})
	assert.Equal(t, ForecastGuess, one.Basis(), "one level does not determine the spread")
	assert.Equal(t, ForecastRange, r.Basis())

	falling := FromForecast(models.Forecast{Mean: 20, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{20, 15, 25}})
	assert.LessOrEqual(t, falling.P10(), falling.P50(), "crossing quantiles are raised")
}

// anyRange draws a range of any kind.
func anyRange(t *rapid.T) Range {
	m := rapid.Float64Range(0, 3000).Draw(t, "mean")
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 0:
		return FromOverride(models.Demand{Expected: m}, nil)
	case 1:
		p10 := rapid.Float64Range(0, 1).Draw(t, "p10") * m
		p90 := (1 + rapid.Float64Range(0, 5).Draw(t, "p90")) * m
		return FromOverride(models.Demand{Expected: m, P10: &p10, P90: &p90}, nil)
	case 2:
		size := rapid.Float64Range(0.2, 1e6).Draw(t, "size")
		return NegativeBinomial{Mean: m, Size: size}.Range()
	}
	f := models.Forecast{Mean: m}
	q := 0.0
	for _, l := range []float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95} {
		if rapid.Bool().Draw(t, "has level") {
			q += rapid.Float64Range(0, m+1).Draw(t, "step")
			f.Levels, f.Quantiles = append(f.Levels, l), append(f.Quantiles, q)
		}
	}
	return FromForecast(f)
}

func TestQuantilesAreMonotoneAndFinite(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := anyRange(t)
		last := 0.0
		for _, l := range []float64{-1, 0, 0.001, 0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 0.95, 0.999, 1, 2} {
			q := r.Quantile(l)
			if math.IsNaN(q) || math.IsInf(q, 0) || q < last*(1-1e-12) {
				t.Fatalf("quantile %g is %g, the one before %g", l, q, last)
			}
			last = q
		}
		tb := r.Table()
		if m := tb.Mean(); math.Abs(m-r.Mean()) > 1e-6*(1+r.Mean()) {
			t.Fatalf("table mean %g, mean %g", m, r.Mean())
		}
		for i := 1; i < tableSize; i++ {
			if tb.q[i] < tb.q[i-1]*(1-1e-9) {
				t.Fatalf("the table decreases at %d: %g after %g", i, tb.q[i], tb.q[i-1])
			}
		}
		if d := tb.Overdispersion(); !(d >= 0 && d < 1) {
			t.Fatalf("overdispersion %g", d)
		}
	})
}

func TestSamplesHaveTheMean(t *testing.T) {
	t.Parallel()
	for _, r := range []Range{
		Guess(35), Guess(0.4), FromOverride(models.Demand{Expected: 60, P10: new(45.0), P90: new(90.0)}, nil),
		FromForecast(models.Forecast{Mean: 52, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{40, 51, 66}}),
	} {
		const n = 20000
		sum := 0.0
		for i := range n {
			sum += r.Sample((float64(i) + 0.5) / n)
		}
		assert.InEpsilon(t, r.Mean(), sum/n, 0.005, "basis %d", r.Basis())
	}
}

func TestScaledRanges(t *testing.T) {
	t.Parallel()
	r := FromOverride(models.Demand{Expected: 60, P10: new(45.0), P90: new(90.0)}, nil)
	assert.InEpsilon(t, 2*r.Mean(), r.Scaled(2).Mean(), 1e-12)
	assert.InEpsilon(t, 180, r.Scaled(2).P90(), 1e-12)
	assert.Zero(t, r.Scaled(0).P90(), "closed: no demand")
	g := Guess(40).Scaled(0.5)
	assert.Equal(t, Guess(20).P90(), g.P90(), "a guess follows its rule at the new mean")
}

func TestTailsOfAForecastRow(t *testing.T) {
	t.Parallel()
	r := FromForecast(models.Forecast{Mean: 52, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{40, 51, 66}})
	below := (51.0 - 40) / z90
	assert.InDelta(t, 40-below*(normalQuantile(0.95)-z90), r.Quantile(0.05), 1e-9, "the first slope continues downwards")
	low := FromForecast(models.Forecast{Mean: 30, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{2, 30, 60}})
	assert.Zero(t, low.Quantile(0.01), "but not below 0")

	above := (66.0 - 51) / z90
	for _, c := range []struct {
		mean    float64
		stretch float64
	}{{20, 0.5}, {400, 3}} { // means that no upper tail can meet
		high := FromForecast(models.Forecast{Mean: c.mean, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{40, 51, 66}})
		w := normalQuantile(0.95) - z90
		bend := above / 66
		assert.InDelta(t, 66+c.stretch*above*math.Expm1(bend*w)/bend, high.Quantile(0.95), 1e-9, "mean %g", c.mean)
	}
	wild := FromForecast(models.Forecast{Mean: 900, Levels: []float64{0.1, 0.5, 0.9}, Quantiles: []float64{0, 1, 66}})
	assert.InDelta(t, 660, wild.Quantile(1), 1e-9, "at most ten times the highest quantile")
}

func TestUnusableLevelsOfAForecastRowAreIgnored(t *testing.T) {
	t.Parallel()
	r := FromForecast(models.Forecast{Mean: 52, Levels: []float64{0.1, 0, 1, 0.5, 0.3, 0.9, 0.9}, Quantiles: []float64{40, 500, 1, 51, math.Inf(1), 66, 70, 99}})
	assert.Equal(t, []float64{40, 51, 66}, []float64{r.P10(), r.P50(), r.P90()}, "the first of two equal levels counts")
	assert.InDelta(t, 51, r.P50(), 1e-12)
	assert.Equal(t, ForecastGuess, FromForecast(models.Forecast{Mean: 20, Levels: []float64{0.5, 0.9}, Quantiles: []float64{0, 0}, Basis: "new"}).Basis())
	for _, mean := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		assert.Zero(t, FromForecast(models.Forecast{Mean: mean, Levels: []float64{0.1, 0.9}, Quantiles: []float64{1, 2}}).P90(), "mean %g", mean)
		assert.Zero(t, Guess(mean).P90(), "mean %g", mean)
	}
}

func TestTheOverrideTakesPrecedenceOverTheForecast(t *testing.T) {
	t.Parallel()
	f := &models.Forecast{Mean: 50, Levels: []float64{0.1, 0.9}, Quantiles: []float64{40, 60}}
	r, ok := FromRequest(&models.Demand{Expected: 100}, f)
	assert.True(t, ok)
	assert.InDelta(t, 100, r.Mean(), 1e-9)
	assert.Equal(t, OverrideForecastSpread, r.Basis())
	r, ok = FromRequest(nil, f)
	assert.True(t, ok)
	assert.InDelta(t, 50, r.Mean(), 1e-9)
	_, ok = FromRequest(nil, nil)
	assert.False(t, ok)
	r, _ = FromRequest(&models.Demand{Expected: 100, P10: new(80.0)}, nil)
	assert.Equal(t, OverrideGuess, r.Basis(), "half a range is not a range")
}

func TestTheUpperTailOfAnOverrideIsCapped(t *testing.T) {
	t.Parallel()
	r := FromOverride(models.Demand{Expected: 1, P10: new(1.0), P90: new(20.0)}, nil)
	assert.InDelta(t, 2000, r.Quantile(1), 1e-6, "a hundred times p90")
	sum := 0.0
	const n = 200_000
	for i := range n {
		sum += r.Sample((float64(i) + 0.5) / n)
	}
	assert.InEpsilon(t, sum/n, r.Mean(), 0.005)
}
