package demand

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// NegativeBinomial is the distribution of counts with mean Mean > 0 and variance Mean + Mean²/Size, Size > 0: Poisson with a
// gamma-distributed rate. P(k) = Γ(k+Size)/(Γ(Size)·k!)·p^Size·(1−p)^k with p = Size/(Size+Mean).
type NegativeBinomial struct{ Mean, Size float64 }

// GuessSize is the Size of a guess: the variance is m + 0.04·m², so the level of the day has a standard deviation of 20 %.
const GuessSize = 25.0

// Guess is the range of an expectation without a known spread: negative binomial with variance m + 0.04·m².
func Guess(mean float64) Range {
	return NegativeBinomial{Mean: mean, Size: GuessSize}.Range()
}

// Range returns the distribution as a range; one without demand unless the mean is finite and above 0.
func (d NegativeBinomial) Range() Range {
	if !(d.Mean > 0) || math.IsInf(d.Mean, 1) {
		return Range{}
	}
	return Range{mean: d.Mean, dist: d}
}

// CDF returns P(K ≤ k): the regularised incomplete beta function I_p(Size, k+1).
func (d NegativeBinomial) CDF(k float64) float64 {
	k = math.Floor(k)
	if k < 0 {
		return 0
	}
	if !(d.Mean > 0) {
		return 1
	}
	return mathext.RegIncBeta(d.Size, k+1, d.Size/(d.Size+d.Mean))
}

// Variance returns Mean + Mean²/Size.
func (d NegativeBinomial) Variance() float64 { return d.Mean + d.Mean*d.Mean/d.Size }

// Quantile returns the smallest count k with P(K ≤ k) ≥ level; level is clamped as in [Range.Quantile].
func (d NegativeBinomial) Quantile(level float64) float64 {
	if !(d.Mean > 0) {
		return 0
	}
	return d.quantile(clampLevel(level))
}

// maxSummedMean is the largest mean whose quantiles are found by summing probabilities: above it that is slow and accumulates
// rounding errors.
const maxSummedMean = 2000

// quantile sums probabilities from 0 where that is accurate, and searches with the incomplete beta function where it is not or
// where the sum is too close to the level to tell.
func (d NegativeBinomial) quantile(level float64) float64 {
	s, ok := d.pmfSum()
	if !ok {
		return d.search(level)
	}
	if !s.advanceTo(level) {
		return d.search(level)
	}
	if math.Abs(s.cdf-level) < 1e-11 || math.Abs(s.cdf-s.p-level) < 1e-11 {
		return d.search(level)
	}
	return s.k
}

func (d NegativeBinomial) scaled(factor float64) distribution {
	return NegativeBinomial{Mean: d.Mean * factor, Size: d.Size}
}

func (d NegativeBinomial) tabulate(dst []float64) {
	s, ok := d.pmfSum()
	for i := range dst {
		level := clampLevel(normalCDF(-maxScore + float64(i)/tableSteps))
		if ok && s.advanceTo(level) {
			dst[i] = s.k
			continue
		}
		ok = false
		dst[i] = d.search(level)
	}
}

// pmfSum accumulates the distribution: p is the probability of the count k, cdf that of at most k.
type pmfSum struct {
	k, p, cdf  float64
	ratio, add float64
}

// pmfSum starts at k = 0; ok is false where summing would underflow or take too long.
func (d NegativeBinomial) pmfSum() (s pmfSum, ok bool) {
	logP0 := -d.Size * math.Log1p(d.Mean/d.Size)
	if d.Mean > maxSummedMean || logP0 < -700 || d.Size < 0.05 {
		return pmfSum{}, false
	}
	p0 := math.Exp(logP0)
	return pmfSum{p: p0, cdf: p0, ratio: d.Mean / (d.Size + d.Mean), add: d.Size - 1}, true
}

// advanceTo moves to the first count whose cdf reaches level; false if that takes too many steps.
func (s *pmfSum) advanceTo(level float64) bool {
	for s.cdf < level {
		s.k++
		s.p *= s.ratio * (1 + s.add/s.k)
		s.cdf += s.p
		if s.k > 100*maxSummedMean {
			return false
		}
	}
	return true
}

// search finds the quantile by bisection of the distribution function.
func (d NegativeBinomial) search(level float64) float64 {
	sd := math.Sqrt(d.Variance())
	lo, hi := -1.0, math.Ceil(d.Mean+normalQuantile(level)*sd)
	hi = math.Max(hi, 1)
	for step := math.Max(1, math.Ceil(sd/4)); d.CDF(hi) < level && hi < 1e15; step *= 2 {
		lo, hi = hi, hi+step
	}
	if low := math.Floor(hi - sd/2); lo < 0 && low > 0 && d.CDF(low) < level {
		lo = low
	}
	for hi-lo > 1 {
		if mid := math.Floor((lo + hi) / 2); d.CDF(mid) < level {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}
