package forecast

import "math"

// regression is a Poisson regression with log link of relative demand: coefficients shared by all series plus each series'
// deviations. Ridge penalties shrink the shared coefficients slightly towards 0 and the deviations strongly towards 0.
type regression struct {
	Use    [weatherVars]bool
	Shared []float64
	Own    [][]float64 // deviations by series
	Spread []float64   // dispersion by series: variance = mean + spread·mean²
}

// Ridge penalties, in units of the information in one day of a series of average dispersion.
const (
	ridgeShared    = 0.75
	ridgeOwn       = 1.5
	ridgeIntercept = 0.15
)

// maxColumns bounds the columns of the design matrix; levelColumn is the column of the recent level relative to the series' mean.
const (
	maxColumns  = 40
	levelColumn = 1
)

// design writes the row of the design matrix for a feature row and returns the number of columns.
func design(f []float64, scale float64, use [weatherVars]bool, dst []float64) int {
	n := 0
	add := func(x float64) { dst[n] = x; n++ }
	add(1)
	add(boundedLog(f[fM28] / scale))
	for d := 1; d < 7; d++ {
		add(indicator(int(f[fWeekday]) == d))
	}
	add(f[fSin1])
	add(f[fCos1])
	add(f[fSin2])
	add(f[fCos2])
	if use[wTemp] {
		t := (f[fTemp] - 12) / 10
		add(t)
		add(math.Max(f[fTemp]-20, 0) / 10)
		add(math.Max(f[fTemp]-26, 0) / 10)
		add(f[fWeekend] * t)
	}
	if use[wRain] {
		add(math.Log1p(f[fRain]))
		add(indicator(f[fRain] > 1))
	}
	if use[wHum] {
		h := (f[fHum] - 60) / 20
		add(h)
		add(h * h / 2)
	}
	add(f[fHoliday])
	add(f[fHolidayBefore])
	add(f[fHolidayAfter])
	add(boundedLog(f[fR7]))
	add(boundedLog(f[fR4]))
	add(boundedLog(f[fR8]))
	add(f[fTrend])
	return n
}

func designColumns(use [weatherVars]bool) int {
	return 19 + 4*int(indicator(use[wTemp])) + 2*int(indicator(use[wRain])) + 2*int(indicator(use[wHum]))
}

// boundedLog is the log of x limited to a twentieth and twenty times the usual.
func boundedLog(x float64) float64 { return math.Log(math.Min(20, math.Max(0.05, x))) }

// fitRegression fits the shared coefficients to all samples and each series' deviations to its own, and writes the fitted means
// into the samples. warm, an earlier fit of the same series, may be nil; it saves steps.
func fitRegression(samples []*sample, use [weatherVars]bool, warm *regression) *regression {
	p := designColumns(use)
	r := &regression{Use: use, Shared: make([]float64, p), Own: make([][]float64, len(samples)), Spread: make([]float64, len(samples))}
	if warm != nil && len(warm.Shared) == p {
		copy(r.Shared, warm.Shared)
	}
	parts := make([]seriesRows, 0, len(samples))
	for _, m := range samples {
		parts = append(parts, seriesRows{x: m.design, y: m.ratio, weight: m.weight})
	}
	solver := newNewton(p)
	solver.solve(parts, r.Shared, ridgeShared)
	for i, m := range samples {
		r.Own[i] = make([]float64, p)
		if m.rows() == 0 {
			r.Spread[i] = priorSpread
			continue
		}
		if warm != nil && i < len(warm.Own) && len(warm.Own[i]) == p {
			copy(r.Own[i], warm.Own[i])
		}
		offset := make([]float64, m.rows())
		for k := range offset {
			offset[k] = dot32(m.design[k*p:(k+1)*p], r.Shared)
		}
		solver.solve([]seriesRows{{x: m.design, y: m.ratio, weight: m.weight, offset: offset}}, r.Own[i], ridgeOwn)
		for k := range m.regMean {
			m.regMean[k] = math.Exp(clampLogMean(offset[k] + dot32(m.design[k*p:(k+1)*p], r.Own[i])))
		}
		r.Spread[i] = estimateSpread(m)
	}
	return r
}

// mean predicts a feature row of series i; −1 is a series without coefficients of its own.
func (r *regression) mean(i int, scale float64, f []float64) float64 {
	var buf [maxColumns]float64
	n := design(f, scale, r.Use, buf[:])
	eta := dot(buf[:n], r.Shared)
	if i >= 0 {
		eta += dot(buf[:n], r.Own[i])
	}
	return scale * math.Exp(clampLogMean(eta))
}

// estimateSpread estimates the dispersion a of variance = mean + a·mean² by weighted moments, shrunk towards a prior when days
// are few and the regression overfits.
func estimateSpread(m *sample) float64 {
	over, square := 0.0, 0.0
	for k, regMean := range m.regMean {
		mu, y := regMean*m.scale, m.y(k)
		over += m.weight[k] * ((y-mu)*(y-mu) - mu)
		square += m.weight[k] * mu * mu
	}
	if square == 0 {
		return priorSpread
	}
	const few = 20
	n := float64(m.rows())
	return (n*math.Max(over/square, minSpread) + few*priorSpread) / (n + few)
}

const (
	minSpread   = 1e-3
	priorSpread = 0.15
	maxLogMean  = 4.0 // the mean is at most e⁴ times the usual
)

func clampLogMean(eta float64) float64 { return math.Max(-2*maxLogMean, math.Min(maxLogMean, eta)) }

func dot(a, b []float64) float64 {
	s := 0.0
	b = b[:len(a)]
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// dot32 is dot for stored designs, which take half the memory in single precision.
func dot32(a []float32, b []float64) float64 {
	s := 0.0
	b = b[:len(a)]
	for i, x := range a {
		s += float64(x) * b[i]
	}
	return s
}
