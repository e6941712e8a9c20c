package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"hotday/models"
)

// Nahmias, Production and Operations Analysis, the newsstand example of the chapter on uncertain demand (from memory): weekly
// demand normal with mean 11.73 and standard deviation 4.74; bought at 25 cents, sold at 75, returned for 10. Level 50/(50+15) =
// 0.77, quantity 15.24.
func TestCriticalRatioOfATextbookNewsstand(t *testing.T) {
	t.Parallel()
	level := CriticalRatio(75-25, 25-10, nil)
	assert.InDelta(t, 0.77, level, 0.005)
	normal := models.Forecast{Mean: 11.73}
	for _, z := range []float64{-1.5, -0.5, 0.5, 1.5} { // a range through normal quantiles is normal
		normal.Levels = append(normal.Levels, normalCDF(z))
		normal.Quantiles = append(normal.Quantiles, 11.73+4.74*z)
	}
	assert.InDelta(t, 15.24, FromForecast(normal).Quantile(level), 0.03)
}

func TestCriticalRatio(t *testing.T) {
	t.Parallel()
	pct := 97.0
	for _, c := range []struct {
		short, over float64
		pct         *float64
		want        float64
	}{
		{3, 1, nil, 0.75}, {3, 1, &pct, 0.97}, {0, 1, nil, 0}, {1, 0, nil, 1}, {0, 0, nil, 0.5}, {-1, 2, nil, 0},
		{math.Inf(1), 1, nil, 1}, {math.NaN(), 1, nil, 0.5},
	} {
		assert.Equal(t, c.want, CriticalRatio(c.short, c.over, c.pct), "%+v", c)
	}
}

func TestTheQuantileAtTheCriticalRatioCostsLeast(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := NegativeBinomial{Mean: rapid.Float64Range(0.5, 80).Draw(t, "mean"), Size: rapid.Float64Range(1, 60).Draw(t, "size")}
		short, over := rapid.Float64Range(0.1, 10).Draw(t, "short"), rapid.Float64Range(0.1, 10).Draw(t, "over")
		cost := func(q float64) float64 {
			total, before := 0.0, 0.0
			for k := 0.0; before < 1-1e-12 && k < 3000; k++ {
				cdf := d.CDF(k)
				total += (cdf - before) * (short*math.Max(0, k-q) + over*math.Max(0, q-k))
				before = cdf
			}
			return total
		}
		q := d.Quantile(CriticalRatio(short, over, nil))
		best := cost(q)
		for _, other := range []float64{q - 2, q - 1, q + 1, q + 2} {
			if other >= 0 && cost(other) < best-1e-9*best {
				t.Fatalf("the quantile %v costs %v, %v costs %v", q, best, other, cost(other))
			}
		}
	})
}
