package demand

import (
	"math"
	"sort"

	"hotday/models"
)

// FromForecast is the range of a forecast row: servings are linear in the standard normal score between the row's levels, with
// the row's mean. With fewer than two usable levels the spread is a guess.
func FromForecast(f models.Forecast) Range {
	k := newInterpolated(f.Levels, f.Quantiles, f.Mean)
	top := 0.0
	if n := len(k.q); n > 0 {
		top = k.q[n-1]
	}
	switch {
	case !(f.Mean > 0) || math.IsInf(f.Mean, 1):
		return Range{basis: ForecastRange}
	case len(k.q) < 2 || !(top > 0):
		return Guess(f.Mean).with(ForecastGuess)
	}
	return Range{mean: f.Mean, basis: ForecastRange, dist: k}
}

// maxTailFactor caps the upper tail, as a multiple of the highest given quantile.
const maxTailFactor = 10

// interpolated is the distribution through given quantiles: q at the scores z, linear between them. Below z[0] it falls by
// slopeBelow a unit of score, not under 0. Above the last it rises by slopeAbove·(e^(bend·w) − 1)/bend, w being the distance in
// scores, up to max: the shape of a log-normal whose slope at the last quantile is slopeAbove.
type interpolated struct {
	z, q       []float64
	slopeBelow float64
	slopeAbove float64
	bend       float64
	max        float64
}

// newInterpolated sorts the levels and makes the quantiles non-decreasing by raising each to the one before. The slope of the
// upper tail is that of the last step times ½ to 3, whatever in that range brings the mean closest to the given one.
func newInterpolated(levels, quantiles []float64, mean float64) interpolated {
	n := min(len(levels), len(quantiles))
	order := make([]int, 0, n)
	for i := range n {
		if levels[i] > 0 && levels[i] < 1 && quantiles[i] >= 0 && !math.IsInf(quantiles[i], 1) {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return levels[order[a]] < levels[order[b]] })
	var k interpolated
	for _, i := range order {
		z, q := normalQuantile(clampLevel(levels[i])), quantiles[i]
		if m := len(k.z); m > 0 {
			q = math.Max(q, k.q[m-1])
			if z <= k.z[m-1] {
				continue
			}
		}
		k.z, k.q = append(k.z, z), append(k.q, q)
	}
	m := len(k.z)
	if m < 2 {
		return k
	}
	k.slopeBelow = (k.q[1] - k.q[0]) / (k.z[1] - k.z[0])
	slope := (k.q[m-1] - k.q[m-2]) / (k.z[m-1] - k.z[m-2])
	if k.q[m-1] > 0 {
		k.bend = math.Min(1, slope/k.q[m-1])
	}
	k.max = math.Max(maxTailFactor*k.q[m-1], slope)
	k.fitTail(slope, mean)
	return k
}

// fitTail sets slopeAbove. The mean is linear in it, so two tables give the solution.
func (k *interpolated) fitTail(slope, mean float64) {
	at := func(tail float64) float64 {
		k.slopeAbove = tail
		var t Table
		k.tabulate(t.q[:])
		return t.Mean()
	}
	flat, steep := at(0), at(slope)
	k.slopeAbove = slope
	if steep > flat {
		k.slopeAbove = slope * math.Min(3, math.Max(0.5, (mean-flat)/(steep-flat)))
	}
}

func (k interpolated) atScore(z float64) float64 {
	last := len(k.z) - 1
	switch {
	case z <= k.z[0]:
		return math.Max(0, k.q[0]+k.slopeBelow*(z-k.z[0]))
	case z >= k.z[last]:
		return math.Min(k.max, k.q[last]+k.slopeAbove*k.tailShape(z-k.z[last]))
	}
	i := sort.SearchFloat64s(k.z, z) // k.z[i-1] < z <= k.z[i]
	if z == k.z[i] {
		return k.q[i]
	}
	part := (z - k.z[i-1]) / (k.z[i] - k.z[i-1])
	return k.q[i-1] + part*(k.q[i]-k.q[i-1])
}

func (k interpolated) tailShape(w float64) float64 {
	if k.bend < 1e-9 {
		return w
	}
	return math.Expm1(k.bend*w) / k.bend
}

func (k interpolated) quantile(level float64) float64 { return k.atScore(normalQuantile(level)) }

func (k interpolated) scaled(factor float64) distribution {
	q := make([]float64, len(k.q))
	for i := range q {
		q[i] = k.q[i] * factor
	}
	k.q, k.slopeBelow, k.slopeAbove, k.max = q, k.slopeBelow*factor, k.slopeAbove*factor, k.max*factor
	return k
}

func (k interpolated) tabulate(dst []float64) {
	for i := range dst {
		dst[i] = k.atScore(-maxScore + float64(i)/tableSteps)
	}
}
