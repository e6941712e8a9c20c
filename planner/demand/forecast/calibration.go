package forecast

import (
	"math"
	"slices"
)

// calibration is learnt from the backtests: dispersion by series of the first two methods, the methods' weights, and widths
// overall and on hot days.
type calibration struct {
	Spread  [][2]float64
	Weights [methodCount]float64
	Plain   widths
	Hot     widths
}

// widthShrinkage is the number of backtests at which a learnt width gets half the weight: a few weeks of a few series say little
// about the next.
const widthShrinkage = 400

// maxBacktests limits the sample from which weights and widths are learnt; a larger one makes no difference.
const maxBacktests = 1500

func calibrate(backtests []backtest, count int, inSample []float64, hotFrom float64) calibration {
	c := calibration{Spread: estimateSpreads(backtests, count, inSample)}
	var full []backtest
	for _, t := range backtests {
		if !t.Part {
			full = append(full, t)
		}
	}
	if n := len(full); n > maxBacktests {
		for k := range maxBacktests {
			full[k] = full[k*n/maxBacktests]
		}
		full = full[:maxBacktests]
	}
	methodQ := make([][methodCount][gridSize]float64, len(full))
	for i := range full {
		full[i].View.quantiles(c.Spread[full[i].Series], &methodQ[i])
	}
	c.Weights = learnWeights(full, methodQ)
	mixed := make([][gridSize]float64, len(full))
	for i := range full {
		mixQuantiles(&methodQ[i], &c.Weights, mixed[i][:])
	}
	c.Plain = learnWidths(full, mixed, func(*backtest) bool { return true }, widths{1, 1}, widthShrinkage)
	c.Hot = learnWidths(full, mixed, func(t *backtest) bool { return t.Temp > hotFrom }, c.Plain, widthShrinkage)
	return c
}

// estimateSpreads estimates each series' dispersion by method from the backtest errors (method of moments), shrunk towards the
// pooled estimate. inSample is the regression's in-sample estimate, which is biased downwards; scaled up, it is used where there
// are no backtests.
func estimateSpreads(backtests []backtest, count int, inSample []float64) [][2]float64 {
	const shrink = 40
	out := make([][2]float64, count)
	for k := range 2 {
		over, square, n := make([]float64, count), make([]float64, count), make([]float64, count)
		sumOver, sumSquare := 0.0, 0.0
		for i := range backtests {
			t := &backtests[i]
			mu := [2]float64{t.View.Regression, t.View.Boosting}[k]
			e := ((t.Y-mu)*(t.Y-mu) - mu) / (t.Scale * t.Scale)
			q := mu * mu / (t.Scale * t.Scale)
			over[t.Series] += e
			square[t.Series] += q
			n[t.Series]++
			sumOver, sumSquare = sumOver+e, sumSquare+q
		}
		for i := range out {
			if sumSquare == 0 {
				out[i][k] = 1.3*inSample[i] + 0.02
				continue
			}
			pooled := math.Max(sumOver/sumSquare, minSpread)
			own := pooled
			if square[i] > 0 {
				own = math.Max(over[i]/square[i], minSpread)
			}
			out[i][k] = math.Min((n[i]*own+shrink*pooled)/(n[i]+shrink), 2)
		}
	}
	return out
}

// lossLevels are the indexes in grid of the levels at which weights and widths are optimised: .05 to .95.
var lossLevels = []int{3, 4, 6, 7, 8, 10, 12, 14, 16, 17, 18, 20, 22}

// learnWeights finds the weights of the methods that minimise the mean pinball loss of the mixed quantiles on the backtests,
// relative to each series' mean and pulled towards equal weights when there are few. Exponentiated gradient, Kivinen & Warmuth
// 1997 (from memory).
func learnWeights(backtests []backtest, methodQ [][methodCount][gridSize]float64) [methodCount]float64 {
	var w [methodCount]float64
	for k := range w {
		w[k] = 1.0 / methodCount
	}
	if len(backtests) < minBacktests {
		return w
	}
	pull := 0.15 * math.Min(1, 300/float64(len(backtests)))
	const steps = 120
	for step := range steps {
		var g [methodCount]float64
		loss := 0.0
		for i := range backtests {
			t, mq := &backtests[i], &methodQ[i]
			weight := 1 / t.Scale
			for _, l := range lossLevels {
				q := 0.0
				for k := range w {
					q += w[k] * mq[k][l]
				}
				slope := -grid[l] * weight
				if t.Y < q {
					slope = (1 - grid[l]) * weight
				}
				loss += slope * (q - t.Y)
				for k := range w {
					g[k] += slope * mq[k][l]
				}
			}
		}
		rate := 3.0 / (1 + 0.05*float64(step))
		sum := 0.0
		for k := range w {
			gradient := g[k]/math.Max(loss, 1e-9) + pull*(w[k]-1.0/methodCount)
			w[k] *= math.Exp(-rate * math.Max(-2, math.Min(2, gradient))) // clipped, as the gradient is unstable when the loss is near 0
			sum += w[k]
		}
		for k := range w {
			w[k] /= sum
		}
	}
	return w
}

// minBacktests is the fewest backtests from which weights and widths are learnt.
const minBacktests = 30

// mixQuantiles writes the weighted mean of the methods' quantiles into dst.
func mixQuantiles(methodQ *[methodCount][gridSize]float64, w *[methodCount]float64, dst []float64) {
	for l := range dst {
		q := 0.0
		for k := range w {
			q += w[k] * methodQ[k][l]
		}
		dst[l] = q
	}
}

// widths stretch the distance of quantiles from the median, below and above it.
type widths struct{ Below, Above float64 }

// learnWidths finds the widths that minimise the pinball loss of the mixture on the backtests that keep selects, shrunk towards
// start with weight n/(n + shrink).
func learnWidths(backtests []backtest, mixed [][gridSize]float64, keep func(*backtest) bool, start widths, shrink float64) widths {
	var kept []int
	for i := range backtests {
		if keep(&backtests[i]) {
			kept = append(kept, i)
		}
	}
	if len(kept) < minBacktests {
		return start
	}
	trust := float64(len(kept)) / (float64(len(kept)) + shrink)
	best := func(low bool, first float64) float64 {
		at, least := first, math.Inf(1)
		for f := 0.6; f <= 2.01; f += 0.05 {
			loss := 0.0
			for _, i := range kept {
				t, q := &backtests[i], &mixed[i]
				for _, l := range lossLevels {
					if l == medianIndex || l < medianIndex != low {
						continue
					}
					x := math.Max(0, q[medianIndex]+f*(q[l]-q[medianIndex]))
					loss += pinball(grid[l], t.Y, x) / t.Scale
				}
			}
			if loss < least {
				at, least = f, loss
			}
		}
		return first + (at-first)*trust
	}
	return widths{best(true, start.Below), best(false, start.Above)}
}

// pinball is the pinball loss of quantile q of a level for the outcome y.
func pinball(level, y, q float64) float64 {
	if y >= q {
		return level * (y - q)
	}
	return (1 - level) * (q - y)
}

// stretch applies the widths times by to quantiles on the grid, in place.
func (w widths) stretch(q []float64, by float64) {
	m := q[medianIndex]
	for l := range q {
		switch {
		case l < medianIndex:
			q[l] = math.Max(0, m+w.Below*by*(q[l]-m))
		case l > medianIndex:
			q[l] = m + w.Above*by*(q[l]-m)
		}
	}
}

// hotThreshold returns the 85 % quantile and the maximum of the known temperatures.
func hotThreshold(day []float64) (hot, hottest float64) {
	temps := slices.DeleteFunc(slices.Clone(day), math.IsNaN)
	slices.Sort(temps)
	return temps[int(.85*float64(len(temps)))], temps[len(temps)-1]
}
