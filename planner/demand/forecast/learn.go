package forecast

import (
	"math"
	"slices"
)

// calibration is what the trials taught: spreads of the first two methods by series, weights of the methods, widths, hot days
// apart.
type calibration struct {
	Spread  [][2]float64
	Weights [methodCount]float64
	Plain   widths
	Hot     widths
}

// trustAll is the number of trials at which a learnt width is believed half: a few weeks of a few series show the width of those
// weeks, not of the next.
const trustAll = 400

// mostTrials is how many trials the weights and widths are learnt from; more teach nothing new.
const mostTrials = 1500

func calibrate(trials []trial, count int, inside []float64, hotFrom float64) calibration {
	c := calibration{Spread: spreads(trials, count, inside)}
	var full []trial
	for _, t := range trials {
		if !t.Part {
			full = append(full, t)
		}
	}
	if n := len(full); n > mostTrials {
		for k := range mostTrials {
			full[k] = full[k*n/mostTrials]
		}
		full = full[:mostTrials]
	}
	said := make([][methodCount][len26]float64, len(full))
	for i := range full {
		full[i].View.all(c.Spread[full[i].Series], &said[i])
	}
	c.Weights = learnWeights(full, said)
	mixed := make([][len26]float64, len(full))
	for i := range full {
		mix(&said[i], &c.Weights, mixed[i][:])
	}
	c.Plain = learnWidths(full, mixed, func(*trial) bool { return true }, widths{1, 1}, trustAll)
	c.Hot = learnWidths(full, mixed, func(t *trial) bool { return t.Temp > hotFrom }, c.Plain, trustAll)
	return c
}

// spreads estimates each series' spread by method from the errors of the trials, shrunk to that of all series; inside is the
// regression's own estimate, which is too small where it had much to bend, and stands in where there are no trials.
func spreads(trials []trial, count int, inside []float64) [][2]float64 {
	const shrink = 40
	out := make([][2]float64, count)
	for k := range 2 {
		over, square, n := make([]float64, count), make([]float64, count), make([]float64, count)
		sumOver, sumSquare := 0.0, 0.0
		for i := range trials {
			t := &trials[i]
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
				out[i][k] = 1.3*inside[i] + 0.02
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

// learntAt is the levels, by their place in grid, at which weights and widths are judged: .05 to .95.
var learntAt = []int{3, 4, 6, 7, 8, 10, 12, 14, 16, 17, 18, 20, 22}

// learnWeights finds the weights of the methods whose mixed quantiles would have lost least on the trials (mean pinball loss
// relative to each series' mean), held near equal shares where the trials are few. Exponentiated gradient, Kivinen & Warmuth 1997
// (from memory).
func learnWeights(trials []trial, said [][methodCount][len26]float64) [methodCount]float64 {
	var w [methodCount]float64
	for k := range w {
		w[k] = 1.0 / methodCount
	}
	if len(trials) < fewTrials {
		return w
	}
	hold := 0.15 * math.Min(1, 300/float64(len(trials)))
	const steps = 120
	for step := range steps {
		var g [methodCount]float64
		loss := 0.0
		for i := range trials {
			t, q4 := &trials[i], &said[i]
			one := 1 / t.Scale
			for _, l := range learntAt {
				q := 0.0
				for k := range w {
					q += w[k] * q4[k][l]
				}
				slope := -grid[l] * one
				if t.Y < q {
					slope = (1 - grid[l]) * one
				}
				loss += slope * (q - t.Y)
				for k := range w {
					g[k] += slope * q4[k][l]
				}
			}
		}
		rate := 3.0 / (1 + 0.05*float64(step))
		sum := 0.0
		for k := range w {
			gradient := g[k]/math.Max(loss, 1e-9) + hold*(w[k]-1.0/methodCount)
			w[k] *= math.Exp(-rate * math.Max(-2, math.Min(2, gradient))) // where next to nothing is lost, nothing is learnt
			sum += w[k]
		}
		for k := range w {
			w[k] /= sum
		}
	}
	return w
}

// fewTrials is how many trials nothing but spreads can be learnt from.
const fewTrials = 30

// mix writes the weighted quantiles into dst.
func mix(said *[methodCount][len26]float64, w *[methodCount]float64, dst []float64) {
	for l := range dst {
		q := 0.0
		for k := range w {
			q += w[k] * said[k][l]
		}
		dst[l] = q
	}
}

// widths stretch the distance of quantiles from the median, below and above.
type widths struct{ Below, Above float64 }

// learnWidths finds how much wider or narrower the mixture should have been on the trials: the stretch with the least pinball
// loss below and above the median, drawn to start (what is assumed) where the trials are few: weight n/(n + shrink).
func learnWidths(trials []trial, mixed [][len26]float64, keep func(*trial) bool, start widths, shrink float64) widths {
	var kept []int
	for i := range trials {
		if keep(&trials[i]) {
			kept = append(kept, i)
		}
	}
	if len(kept) < fewTrials {
		return start
	}
	trust := float64(len(kept)) / (float64(len(kept)) + shrink)
	best := func(low bool, first float64) float64 {
		at, least := first, math.Inf(1)
		for f := 0.6; f <= 2.01; f += 0.05 {
			loss := 0.0
			for _, i := range kept {
				t, q := &trials[i], &mixed[i]
				for _, l := range learntAt {
					if l == middle || l < middle != low {
						continue
					}
					x := math.Max(0, q[middle]+f*(q[l]-q[middle]))
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

// pinball is the loss of quantile q at a level when y came.
func pinball(level, y, q float64) float64 {
	if y >= q {
		return level * (y - q)
	}
	return (1 - level) * (q - y)
}

// stretch applies widths to quantiles on the grid in place, wider by a factor.
func (w widths) stretch(q []float64, by float64) {
	m := q[middle]
	for l := range q {
		switch {
		case l < middle:
			q[l] = math.Max(0, m+w.Below*by*(q[l]-m))
		case l > middle:
			q[l] = m + w.Above*by*(q[l]-m)
		}
	}
}

// hotEdge is the temperature that 85 % of the known days stay below, and the hottest.
func hotEdge(day []float64) (hot, hottest float64) {
	temps := slices.DeleteFunc(slices.Clone(day), math.IsNaN)
	slices.Sort(temps)
	return temps[int(.85*float64(len(temps)))], temps[len(temps)-1]
}
