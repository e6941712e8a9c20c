package forecast

import (
	"math"
	"slices"
)

// trial is one past day forecast without what came after, beside what came.
type trial struct {
	view
	series int
	y      float64
	scale  float64
	temp   float64
}

// block is the number of days that one fit of the past forecasts; lags are renewed weekly within it, as forecasts are issued.
const block = 28

// rollingTrials fits the learners at earlier origins and forecasts the days after each.
func rollingTrials(all []*series, last int, use seasons, c config) []trial {
	var trials []trial
	var warm *regression
	for b := c.blocks; b >= 1; b-- {
		origin := last - b*block
		if origin < leastPast {
			continue
		}
		f := fit(all, origin, use, c.trialTrees, uint64(b), warm)
		warm = f.regression
		for i, s := range all {
			for t := origin + 1; t <= origin+block; t++ {
				if math.IsNaN(s.y[t]) {
					continue
				}
				issued := origin + (t-origin-1)/7*7
				if v := f.look(i, t, issued); v.known {
					trials = append(trials, trial{view: v, series: i, y: s.y[t], scale: f.samples[i].scale, temp: s.temp[t]})
				}
			}
		}
	}
	return trials
}

// leastPast is the fewest days before the first origin.
const leastPast = 56

// spreads estimates each series' spread by method from the errors of the trials, shrunk to that of all series; inside is the
// regression's own estimate, which is too small where it had much to bend, and stands in where there are no trials.
func spreads(trials []trial, count int, inside []float64) [][2]float64 {
	const shrink = 40
	out := make([][2]float64, count)
	for k := range 2 {
		over, square, n := make([]float64, count), make([]float64, count), make([]float64, count)
		sumOver, sumSquare := 0.0, 0.0
		for _, t := range trials {
			mu := [2]float64{t.regression, t.boosting}[k]
			e := ((t.y-mu)*(t.y-mu) - mu) / (t.scale * t.scale)
			q := mu * mu / (t.scale * t.scale)
			over[t.series] += e
			square[t.series] += q
			n[t.series]++
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

// learnWeights finds the weights of the methods whose mixed quantiles would have lost least on the trials (mean pinball loss
// relative to each series' mean), held near equal shares where the trials are few. Exponentiated gradient, Kivinen & Warmuth 1997
// (from memory).
func learnWeights(trials []trial) [methodCount]float64 {
	var w [methodCount]float64
	for k := range w {
		w[k] = 1.0 / methodCount
	}
	if len(trials) < 30 {
		return w
	}
	hold := 0.15 * math.Min(1, 300/float64(len(trials)))
	const steps = 120
	for step := range steps {
		var g [methodCount]float64
		loss := 0.0
		for i := range trials {
			t := &trials[i]
			for l := 3; l < len(grid)-2; l++ {
				q := 0.0
				for k := range w {
					q += w[k] * t.quantiles[k][l]
				}
				slope := -grid[l]
				if t.y < q {
					slope = 1 - grid[l]
				}
				loss += slope * (q - t.y) / t.scale
				for k := range w {
					g[k] += slope * t.quantiles[k][l] / t.scale
				}
			}
		}
		rate := 3.0 / (1 + 0.05*float64(step))
		sum := 0.0
		for k := range w {
			gradient := g[k]/math.Max(loss, 1e-12) + hold*(w[k]-1.0/methodCount)
			w[k] *= math.Exp(-rate * gradient)
			sum += w[k]
		}
		for k := range w {
			w[k] /= sum
		}
	}
	return w
}

// mix averages the methods' quantiles with the weights.
func (v *view) mix(w [methodCount]float64, dst []float64) {
	for l := range grid {
		q := 0.0
		for k := range w {
			q += w[k] * v.quantiles[k][l]
		}
		dst[l] = q
	}
}

// widths stretch the distance of quantiles from the median, below and above.
type widths struct{ below, above float64 }

// learnWidths finds how much wider or narrower the mixture should have been on the trials: the stretch with the least pinball
// loss below and above the median, drawn to start (what is assumed) where the trials are few: weight n/(n + shrink).
func learnWidths(trials []trial, mixed [][]float64, keep func(*trial) bool, start widths, shrink float64) widths {
	n := 0
	for i := range trials {
		if keep(&trials[i]) {
			n++
		}
	}
	if n == 0 {
		return start
	}
	best := func(low bool, first float64) float64 {
		at, least := first, math.Inf(1)
		for _, f := range stretches {
			loss := 0.0
			for i := range trials {
				t := &trials[i]
				if !keep(t) {
					continue
				}
				q := mixed[i]
				for l, level := range grid {
					if level < .045 || level > .96 || (level < .45) != low || (level > .55) == low {
						continue
					}
					x := math.Max(0, q[middle]+f*(q[l]-q[middle]))
					if t.y > x {
						loss += level * (t.y - x) / t.scale
					} else {
						loss += (1 - level) * (x - t.y) / t.scale
					}
				}
			}
			if loss < least {
				at, least = f, loss
			}
		}
		trust := float64(n) / (float64(n) + shrink)
		return first + (at-first)*trust
	}
	return widths{best(true, start.below), best(false, start.above)}
}

var stretches = func() []float64 {
	var f []float64
	for x := 0.6; x <= 2.01; x += 0.05 {
		f = append(f, x)
	}
	return f
}()

// stretch applies widths to quantiles on the grid in place.
func (w widths) stretch(q []float64) {
	m := q[middle]
	for l := range q {
		switch {
		case l < middle:
			q[l] = math.Max(0, m+w.below*(q[l]-m))
		case l > middle:
			q[l] = m + w.above*(q[l]-m)
		}
	}
}

// hotEdge is the temperature that 85 % of the past days of the site stay below.
func hotEdge(all []*series, last int, use seasons) float64 {
	if !use.temp || len(all) == 0 {
		return math.Inf(1)
	}
	temps := slices.Clone(all[0].temp[:last+1])
	if len(temps) < 100 {
		return math.Inf(1)
	}
	slices.Sort(temps)
	return temps[int(.85*float64(len(temps)))]
}
