package demand

import (
	"math"
	"sort"

	"hotday/models"
)

// FromForecast is the range of a forecast row. Between the levels the servings are linear in the standard normal score; the
// mean stays the row's. With fewer than two usable levels only the mean is known, and the spread is a guess.
func FromForecast(f models.Forecast) Range {
	k := newKnots(f.Levels, f.Quantiles, f.Mean)
	top := 0.0
	if n := len(k.q); n > 0 {
		top = k.q[n-1]
	}
	switch {
	case !(f.Mean > 0) || math.IsInf(f.Mean, 1):
		return None(f.Basis)
	case len(k.q) < 2 || !(top > 0):
		return Guess(f.Mean, joinBasis(f.Basis, "the spread is "+guessBasis))
	}
	return Range{mean: f.Mean, basis: f.Basis, shape: k}
}

func joinBasis(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// forecastTail ends the upper tail: times the highest stated quantile.
const forecastTail = 10

// knots is a distribution through stated quantiles: q at the scores z, linear between. Below the first it falls with the slope
// of the first step, not under 0; above the last it rises by tail·(e^(bend·w) − 1)/bend with w the scores beyond: as a log-normal
// would where tail is the slope before it.
type knots struct {
	z, q    []float64
	fall    float64
	tail    float64
	bend    float64
	highest float64
}

// newKnots sorts the levels and lifts every quantile to the one before, so that the result never falls. The upper tail follows
// the slope before it, stretched (½ to 3 times) so that the distribution has the stated mean where that can be.
func newKnots(levels, quantiles []float64, mean float64) knots {
	n := min(len(levels), len(quantiles))
	order := make([]int, 0, n)
	for i := range n {
		if levels[i] > 0 && levels[i] < 1 && quantiles[i] >= 0 && !math.IsInf(quantiles[i], 1) {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return levels[order[a]] < levels[order[b]] })
	var k knots
	for _, i := range order {
		z, q := score(clampLevel(levels[i])), quantiles[i]
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
	k.fall = (k.q[1] - k.q[0]) / (k.z[1] - k.z[0])
	slope := (k.q[m-1] - k.q[m-2]) / (k.z[m-1] - k.z[m-2])
	if k.q[m-1] > 0 {
		k.bend = math.Min(1, slope/k.q[m-1])
	}
	k.highest = math.Max(forecastTail*k.q[m-1], slope)
	k.fitTail(slope, mean)
	return k
}

// fitTail: the mean is linear in the tail's slope, so two tables give the one that meets it.
func (k *knots) fitTail(slope, mean float64) {
	at := func(tail float64) float64 {
		k.tail = tail
		var t Table
		k.fill(t.q[:])
		return t.Mean()
	}
	flat, steep := at(0), at(slope)
	k.tail = slope
	if steep > flat {
		k.tail = slope * math.Min(3, math.Max(0.5, (mean-flat)/(steep-flat)))
	}
}

func (k knots) atScore(z float64) float64 {
	last := len(k.z) - 1
	switch {
	case z <= k.z[0]:
		return math.Max(0, k.q[0]+k.fall*(z-k.z[0]))
	case z >= k.z[last]:
		return math.Min(k.highest, k.q[last]+k.tail*k.beyond(z-k.z[last]))
	}
	i := sort.SearchFloat64s(k.z, z) // k.z[i-1] < z <= k.z[i]
	if z == k.z[i] {
		return k.q[i]
	}
	part := (z - k.z[i-1]) / (k.z[i] - k.z[i-1])
	return k.q[i-1] + part*(k.q[i]-k.q[i-1])
}

func (k knots) beyond(w float64) float64 {
	if k.bend < 1e-9 {
		return w
	}
	return math.Expm1(k.bend*w) / k.bend
}

func (k knots) quantile(level float64) float64 { return k.atScore(score(level)) }

func (k knots) scaled(factor float64) shape {
	q := make([]float64, len(k.q))
	for i := range q {
		q[i] = k.q[i] * factor
	}
	k.q, k.fall, k.tail, k.highest = q, k.fall*factor, k.tail*factor, k.highest*factor
	return k
}

func (k knots) fill(dst []float64) {
	for i := range dst {
		dst[i] = k.atScore(-maxScore + float64(i)/tableSteps)
	}
}
