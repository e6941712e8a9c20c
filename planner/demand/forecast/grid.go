package forecast

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// grid is the levels at which methods are mixed and corrected; other levels are interpolated.
var grid = []float64{.005, .01, .025, .05, .1, .15, .2, .25, .3, .35, .4, .45, .5, .55, .6, .65, .7, .75, .8, .85, .9, .925, .95, .975, .99, .995}

const gridSize = 26

var medianIndex = slices.Index(grid, .5)

// negativeBinomial writes the quantiles on the grid of a negative binomial with variance mean + spread·mean². The probability of
// each count is spread evenly over ±½, so that quantiles are continuous and, rounded, equal those of the counts. Means above 60
// use the gamma distribution with the same mean and variance.
func negativeBinomial(mean, spread float64, dst []float64) {
	switch {
	case !(mean > 0):
		clear(dst)
		return
	case mean > 60:
		gammaQuantiles(mean, mean+spread*mean*mean, dst)
		return
	}
	size := 1 / math.Max(spread, 1e-6)
	p := size / (size + mean)
	probability := math.Exp(size * math.Log(p)) // of 0
	below, k, last := 0.0, 0, 0.0
	for n := 0; k < len(grid) && n < 4000; n++ {
		for k < len(grid) && grid[k] <= below+probability {
			last = math.Max(0, float64(n)-.5+(grid[k]-below)/probability)
			dst[k] = last
			k++
		}
		below += probability
		probability *= (size + float64(n)) / float64(n+1) * (1 - p)
	}
	for ; k < len(grid); k++ {
		dst[k] = last
	}
}

// gammaQuantiles uses the cube-root approximation of Wilson and Hilferty (1931, from memory) for shapes of 4 and more, where the
// quantiles between .05 and .995 are within 0.5 % and that at .01 is at most 3 % too low.
func gammaQuantiles(mean, variance float64, dst []float64) {
	shape := mean * mean / variance
	if shape < 4 {
		for k, l := range grid {
			dst[k] = mathext.GammaIncRegInv(shape, l) * mean / shape
		}
		return
	}
	for k := range grid {
		root := 1 - 1/(9*shape) + gridZ[k]/(3*math.Sqrt(shape))
		dst[k] = mean * math.Max(0, root*root*root)
	}
}

// gridZ are the normal scores of the levels in grid.
var gridZ = func() (z [gridSize]float64) {
	for k, l := range grid {
		z[k] = normalQuantile(l)
	}
	return z
}()

// normalQuantile is the standard normal quantile.
func normalQuantile(level float64) float64 { return math.Sqrt2 * math.Erfinv(2*level-1) }

// quantileAt interpolates quantiles on the grid at a level, linearly in the normal score, and extrapolates beyond the grid.
func quantileAt(q []float64, level float64) float64 {
	i := min(max(1, slices.IndexFunc(grid, func(g float64) bool { return g >= level })), len(grid)-1)
	if level > grid[len(grid)-1] {
		i = len(grid) - 1
	}
	if level == grid[i] {
		return q[i]
	}
	a, b, z := normalQuantile(grid[i-1]), normalQuantile(grid[i]), normalQuantile(level)
	return math.Max(0, q[i-1]+(q[i]-q[i-1])*(z-a)/(b-a))
}

// levelAt is the level at which quantiles on the grid reach x, interpolated linearly; 0 below the grid and 1 above.
func levelAt(q []float64, x float64) float64 {
	i := slices.IndexFunc(q, func(y float64) bool { return y >= x })
	switch {
	case i < 0:
		return 1
	case i == 0:
		return 0
	}
	return grid[i-1] + (grid[i]-grid[i-1])*(x-q[i-1])/(q[i]-q[i-1])
}

// gridMean is the mean of the distribution with quantiles q on the grid.
func gridMean(q []float64) float64 {
	m := q[0]*grid[0] + q[len(q)-1]*(1-grid[len(grid)-1])
	for i := 1; i < len(grid); i++ {
		m += (q[i] + q[i-1]) / 2 * (grid[i] - grid[i-1])
	}
	return m
}
