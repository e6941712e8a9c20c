package forecast

import "math"

// regression is the log-link regression of relative demand: coefficients shared by all series, and each series' own deviations
// from them. Ridge penalties shrink the shared ones gently towards none and the deviations strongly towards the shared ones.
type regression struct {
	Use    [weathers]bool
	Shared []float64
	Own    [][]float64 // by series
	Spread []float64   // by series: variance = mean + spread·mean²
}

// Penalties, in units of a day's information about a series of usual spread.
const (
	ridgeShared = 0.75
	ridgeOwn    = 1.5
	ridgeLevel  = 0.15
)

// maxColumns of the design matrix; levelColumn holds the recent level relative to the series' mean.
const (
	maxColumns  = 40
	levelColumn = 1
)

// design writes the regression's columns of a feature row and returns how many there are.
func design(f []float64, scale float64, use [weathers]bool, dst []float64) int {
	n := 0
	add := func(x float64) { dst[n] = x; n++ }
	add(1)
	add(logOf(f[fM28] / scale))
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
	add(f[fBefore])
	add(f[fAfter])
	add(logOf(f[fR7]))
	add(logOf(f[fR4]))
	add(logOf(f[fR8]))
	add(f[fTrend])
	return n
}

func designColumns(use [weathers]bool) int {
	return 19 + 4*int(indicator(use[wTemp])) + 2*int(indicator(use[wRain])) + 2*int(indicator(use[wHum]))
}

// logOf is kept within e^±3: a level a twentieth or twenty times the usual says no more.
func logOf(x float64) float64 { return math.Log(math.Min(20, math.Max(0.05, x))) }

// fitRegression fits the shared coefficients on all samples and each series' own on its sample, and writes the means of the
// training rows into the samples. warm, from an earlier fit of the same series, may be nil; it saves steps.
func fitRegression(samples []*sample, use [weathers]bool, warm *regression) *regression {
	p := designColumns(use)
	r := &regression{Use: use, Shared: make([]float64, p), Own: make([][]float64, len(samples)), Spread: make([]float64, len(samples))}
	if warm != nil && len(warm.Shared) == p {
		copy(r.Shared, warm.Shared)
	}
	parts := make([]part, 0, len(samples))
	for _, m := range samples {
		parts = append(parts, part{x: m.design, y: m.ratio, weight: m.weight})
	}
	normal := newNormal(p)
	normal.solve(parts, r.Shared, ridgeShared)
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
		normal.solve([]part{{x: m.design, y: m.ratio, weight: m.weight, offset: offset}}, r.Own[i], ridgeOwn)
		for k := range m.lead {
			m.lead[k] = math.Exp(clamp(offset[k] + dot32(m.design[k*p:(k+1)*p], r.Own[i])))
		}
		r.Spread[i] = moments(m)
	}
	return r
}

// mean is the regression's mean of a feature row of series i; −1 is a series that it has not seen.
func (r *regression) mean(i int, scale float64, f []float64) float64 {
	var buf [maxColumns]float64
	n := design(f, scale, r.Use, buf[:])
	eta := dot(buf[:n], r.Shared)
	if i >= 0 {
		eta += dot(buf[:n], r.Own[i])
	}
	return scale * math.Exp(clamp(eta))
}

// moments estimates the spread a of variance = mean + a·mean² by weighted moments, drawn to a guess where days are few: then the
// regression has bent to most of them.
func moments(m *sample) float64 {
	over, square := 0.0, 0.0
	for k, lead := range m.lead {
		mu, y := lead*m.scale, m.y(k)
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
	maxEta      = 4.0 // a mean e⁴ times the usual is as far as the regression goes
)

func clamp(eta float64) float64 { return math.Max(-2*maxEta, math.Min(maxEta, eta)) }

func dot(a, b []float64) float64 {
	s := 0.0
	b = b[:len(a)]
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// dot32 is for stored designs: half the memory of a site, at no loss that a demand could show.
func dot32(a []float32, b []float64) float64 {
	s := 0.0
	b = b[:len(a)]
	for i, x := range a {
		s += float64(x) * b[i]
	}
	return s
}
