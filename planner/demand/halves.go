package demand

import "math"

// z90 is the standard normal quantile of 0.9.
const z90 = 1.2815515655446004

// wordTail ends the upper half: beyond a hundred times the stated p90 the word says nothing. It only matters where p90 is more
// than about five times the expectation.
const wordTail = 100

// halves is a distribution of two log-normal halves that meet at the median: ln(x/median) = low·z below, high·z above, z
// standard normal. top cuts the upper tail.
type halves struct{ p10, median, p90, low, high, top float64 }

// newHalves goes through p10 ≤ median ≤ p90, all above 0. Ends more than a million times away are brought that near, for the
// arithmetic's sake.
func newHalves(p10, median, p90 float64) halves {
	const far = 1e6
	p10, p90 = math.Max(p10, median/far), math.Min(p90, median*far)
	return halves{
		p10:    p10,
		median: median,
		p90:    p90,
		low:    math.Max(0, math.Log(median/p10)/z90),
		high:   math.Max(0, math.Log(p90/median)/z90),
		top:    wordTail * math.Max(p90, median),
	}
}

func (h halves) quantile(level float64) float64 {
	switch level { // what was stated, to the last digit
	case 0.1:
		return h.p10
	case 0.5:
		return h.median
	case 0.9:
		return h.p90
	}
	z := score(level)
	if z < 0 {
		return h.median * math.Exp(h.low*z)
	}
	return math.Min(h.top, h.median*math.Exp(h.high*z))
}

func (h halves) scaled(factor float64) shape {
	h.p10, h.median, h.p90, h.top = h.p10*factor, h.median*factor, h.p90*factor, h.top*factor
	return h
}

func (h halves) fill(dst []float64) { fillByQuantile(h, dst) }

// mean is E[X]: the partial expectations of the two log-normals below and above z = 0, and the cut tail.
func (h halves) mean() float64 {
	m := h.median * math.Exp(h.low*h.low/2) * phi(-h.low)
	if h.high == 0 {
		return m + h.median/2
	}
	cut := math.Log(h.top/h.median) / h.high
	m += h.median * math.Exp(h.high*h.high/2) * (phi(cut-h.high) - phi(-h.high))
	return m + h.top*phi(-cut)
}
