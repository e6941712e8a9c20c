package demand

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// NegativeBinomial is the distribution of counts with mean Mean > 0 and variance Mean + Mean²/Size, Size > 0: a Poisson
// count whose rate is gamma distributed. P(k) = Γ(k+Size)/(Γ(Size)·k!)·p^Size·(1−p)^k with p = Size/(Size+Mean).
type NegativeBinomial struct{ Mean, Size float64 }

// GuessSize makes the variance m + 0.04·m²: the day's level has a standard deviation of 20 %.
const GuessSize = 25.0

// guessBasis is said of a spread that no data stand behind.
const guessBasis = "a guess"

// Guess is the range of an expectation about which nothing else is known: negative binomial, variance m + 0.04·m².
func Guess(mean float64, basis string) Range {
	return NegativeBinomial{Mean: mean, Size: GuessSize}.Range(basis)
}

// Range returns the distribution as a range; none where the mean is not above 0.
func (d NegativeBinomial) Range(basis string) Range {
	if !(d.Mean > 0) || math.IsInf(d.Mean, 1) {
		return None(basis)
	}
	return Range{mean: d.Mean, basis: basis, shape: d}
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

// Quantile returns the least count k with P(K ≤ k) ≥ level; level is clamped as for Range.Quantile.
func (d NegativeBinomial) Quantile(level float64) float64 {
	if !(d.Mean > 0) {
		return 0
	}
	return d.quantile(clampLevel(level))
}

// summedMean bounds the means whose quantiles are found by adding up probabilities; above it that would be slow and its
// rounding would add up too.
const summedMean = 2000

// quantile adds up probabilities from 0, as long as that is exact enough, and asks the incomplete beta function wherever the
// sum comes too close to the level to be sure.
func (d NegativeBinomial) quantile(level float64) float64 {
	s, ok := d.summing()
	if !ok {
		return d.search(level)
	}
	if !s.upTo(level) {
		return d.search(level)
	}
	if math.Abs(s.cdf-level) < 1e-11 || math.Abs(s.cdf-s.p-level) < 1e-11 {
		return d.search(level)
	}
	return s.k
}

func (d NegativeBinomial) scaled(factor float64) shape {
	return NegativeBinomial{Mean: d.Mean * factor, Size: d.Size}
}

func (d NegativeBinomial) fill(dst []float64) {
	s, ok := d.summing()
	for i := range dst {
		level := clampLevel(phi(-maxScore + float64(i)/tableSteps))
		if ok && s.upTo(level) {
			dst[i] = s.k
			continue
		}
		ok = false
		dst[i] = d.search(level)
	}
}

// sum walks the probabilities upwards: p is that of the count k, cdf that of at most k.
type sum struct {
	k, p, cdf  float64
	ratio, add float64
}

func (d NegativeBinomial) summing() (sum, bool) {
	logP0 := -d.Size * math.Log1p(d.Mean/d.Size)
	if d.Mean > summedMean || logP0 < -700 || d.Size < 0.05 {
		return sum{}, false
	}
	p0 := math.Exp(logP0)
	return sum{p: p0, cdf: p0, ratio: d.Mean / (d.Size + d.Mean), add: d.Size - 1}, true
}

// upTo walks to the first count whose distribution function reaches level; false where it has not after very many.
func (s *sum) upTo(level float64) bool {
	for s.cdf < level {
		s.k++
		s.p *= s.ratio * (1 + s.add/s.k)
		s.cdf += s.p
		if s.k > 100*summedMean {
			return false
		}
	}
	return true
}

// search brackets the quantile and halves the bracket.
func (d NegativeBinomial) search(level float64) float64 {
	sd := math.Sqrt(d.Variance())
	lo, hi := -1.0, math.Ceil(d.Mean+score(level)*sd)
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
