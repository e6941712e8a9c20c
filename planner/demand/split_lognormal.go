package demand

import "math"

// z90 is the standard normal quantile of 0.9.
const z90 = 1.2815515655446004

// maxTailP90s caps the upper tail at this many times p90. It only matters where p90 is more than about five times the
// expectation.
const maxTailP90s = 100

// splitLogNormal is two log-normal halves joined at the median: ln(x/median) = sigmaLow·z below it and sigmaHigh·z above, with z
// standard normal and x at most cap.
type splitLogNormal struct{ p10, median, p90, sigmaLow, sigmaHigh, cap float64 }

// newSplitLogNormal goes through p10 ≤ median ≤ p90, all above 0. p10 and p90 are limited to a millionth and a million times the
// median, to keep the arithmetic finite.
func newSplitLogNormal(p10, median, p90 float64) splitLogNormal {
	const maxRatio = 1e6
	p10, p90 = math.Max(p10, median/maxRatio), math.Min(p90, median*maxRatio)
	return splitLogNormal{
		p10:       p10,
		median:    median,
		p90:       p90,
		sigmaLow:  math.Max(0, math.Log(median/p10)/z90),
		sigmaHigh: math.Max(0, math.Log(p90/median)/z90),
		cap:       maxTailP90s * math.Max(p90, median),
	}
}

func (h splitLogNormal) quantile(level float64) float64 {
	switch level { // the given values to the last digit
	case 0.1:
		return h.p10
	case 0.5:
		return h.median
	case 0.9:
		return h.p90
	}
	z := normalQuantile(level)
	if z < 0 {
		return h.median * math.Exp(h.sigmaLow*z)
	}
	return math.Min(h.cap, h.median*math.Exp(h.sigmaHigh*z))
}

func (h splitLogNormal) scaled(factor float64) distribution {
	h.p10, h.median, h.p90, h.cap = h.p10*factor, h.median*factor, h.p90*factor, h.cap*factor
	return h
}

func (h splitLogNormal) tabulate(dst []float64) { tabulateQuantiles(h, dst) }

// mean is E[X]: the partial expectations of the two halves, and that of the capped tail.
func (h splitLogNormal) mean() float64 {
	m := h.median * math.Exp(h.sigmaLow*h.sigmaLow/2) * normalCDF(-h.sigmaLow)
	if h.sigmaHigh == 0 {
		return m + h.median/2
	}
	capZ := math.Log(h.cap/h.median) / h.sigmaHigh
	m += h.median * math.Exp(h.sigmaHigh*h.sigmaHigh/2) * (normalCDF(capZ-h.sigmaHigh) - normalCDF(-h.sigmaHigh))
	return m + h.cap*normalCDF(-capZ)
}
