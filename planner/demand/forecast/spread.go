package forecast

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mathext"
)

// grid is the levels at which methods are mixed and corrected; other levels are read between them.
var grid = []float64{.005, .01, .025, .05, .1, .15, .2, .25, .3, .35, .4, .45, .5, .55, .6, .65, .7, .75, .8, .85, .9, .925, .95, .975, .99, .995}

// len26 is the number of levels in grid.
const len26 = 26

// middle is the place of the median in grid.
var middle = slices.Index(grid, .5)

// negativeBinomial writes quantiles at the grid's levels of counts with this mean and variance mean + spread·mean². Each count's
// probability is spread evenly over half a count either way, so that ranges move smoothly and, rounded, are those of the counts.
// Large means use the gamma that the mixture comes from, with its variance.
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
	probability := math.Exp(size * math.Log(p)) // of none
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

// gammaQuantiles takes the cube-root approximation of Wilson and Hilferty (1931, from memory) where the gamma is near enough to
// it: from shape 4 its quantiles between .05 and .995 are within 0.5 %, that at .01 is at most 3 % too low.
func gammaQuantiles(mean, variance float64, dst []float64) {
	shape := mean * mean / variance
	if shape < 4 {
		for k, l := range grid {
			dst[k] = mathext.GammaIncRegInv(shape, l) * mean / shape
		}
		return
	}
	for k := range grid {
		root := 1 - 1/(9*shape) + gridScores[k]/(3*math.Sqrt(shape))
		dst[k] = mean * math.Max(0, root*root*root)
	}
}

// gridScores are the normal scores of the grid's levels.
var gridScores = func() (z [len26]float64) {
	for k, l := range grid {
		z[k] = score(l)
	}
	return z
}()

// score is the standard normal quantile.
func score(level float64) float64 { return math.Sqrt2 * math.Erfinv(2*level-1) }

// at reads a level off quantiles on the grid, linear in the normal score; beyond the grid it goes on with the last slope.
func readLevel(q []float64, level float64) float64 {
	i := min(max(1, slices.IndexFunc(grid, func(g float64) bool { return g >= level })), len(grid)-1)
	if level > grid[len(grid)-1] {
		i = len(grid) - 1
	}
	if level == grid[i] {
		return q[i]
	}
	a, b, z := score(grid[i-1]), score(grid[i]), score(level)
	return math.Max(0, q[i-1]+(q[i]-q[i-1])*(z-a)/(b-a))
}

// meanOfGrid is the mean of the distribution whose quantiles on the grid are q.
func meanOfGrid(q []float64) float64 {
	m := q[0]*grid[0] + q[len(q)-1]*(1-grid[len(grid)-1])
	for i := 1; i < len(grid); i++ {
		m += (q[i] + q[i-1]) / 2 * (grid[i] - grid[i-1])
	}
	return m
}
