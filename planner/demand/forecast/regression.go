package forecast

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// regression is the log-link regression of relative demand: coefficients shared by all series, and each series' own deviations
// from them. Ridge penalties shrink the shared ones gently towards none and the deviations strongly towards the shared ones.
type regression struct {
	use    seasons
	shared []float64
	own    [][]float64 // by series
	spread []float64   // by series: variance = mean + spread·mean²
}

// Penalties, in units of a day's information about a series whose counts spread by dispersed alone.
const (
	ridgeShared = 0.75
	ridgeOwn    = 1.5
	ridgeLevel  = 0.15
	dispersed   = 0.05 // assumed for weighing only
)

// columns of the design matrix.
const maxColumns = 40

// design writes the regression's columns of a feature row and returns how many there are.
func design(f []float64, scale float64, use seasons, dst []float64) int {
	n := 0
	add := func(x float64) { dst[n] = x; n++ }
	add(1)
	for d := 1; d < 7; d++ {
		add(flag(int(f[fWeekday]) == d))
	}
	add(f[fSin1])
	add(f[fCos1])
	add(f[fSin2])
	add(f[fCos2])
	if use.temp {
		t := (f[fTemp] - 12) / 10
		add(t)
		add(math.Max(f[fTemp]-20, 0) / 10)
		add(math.Max(f[fTemp]-26, 0) / 10)
		add(f[fWeekend] * t)
	}
	if use.rain {
		add(math.Log1p(f[fRain]))
		add(flag(f[fRain] > 1))
	}
	if use.hum {
		h := (f[fHum] - 60) / 20
		add(h)
		add(h * h / 2)
	}
	add(f[fHoliday])
	add(f[fBefore])
	add(f[fAfter])
	add(logRatio(f[fM28], scale))
	add(logOf(f[fR7]))
	add(logOf(f[fR4]))
	add(logOf(f[fR8]))
	add(f[fTrend])
	return n
}

// logRatio and logOf are kept within e^±3: a level a twentieth or twenty times the usual says no more.
func logRatio(a, b float64) float64 { return logOf(a / b) }
func logOf(x float64) float64       { return math.Log(math.Min(20, math.Max(0.05, x))) }

// fitRegression fits the shared coefficients on all samples and each series' own on its sample. warm, from an earlier fit, may be
// nil; it saves steps.
func fitRegression(samples []*sample, use seasons, warm *regression) *regression {
	r := &regression{use: use, own: make([][]float64, len(samples)), spread: make([]float64, len(samples))}
	all := newNormal(ridgeShared)
	designs := make([][]float64, len(samples))
	columns := 0
	var buf [maxColumns]float64
	for i, m := range samples {
		columns = design(make([]float64, features), 1, use, buf[:])
		designs[i] = make([]float64, m.rows()*columns)
		for k := range m.rows() {
			design(m.row(k), m.scale, use, designs[i][k*columns:])
		}
	}
	if columns == 0 {
		return r
	}
	r.shared = make([]float64, columns)
	if warm != nil && len(warm.shared) == columns {
		copy(r.shared, warm.shared)
	}
	for range maxSteps {
		all.reset(columns)
		for i, m := range samples {
			for k := range m.rows() {
				all.add(designs[i][k*columns:(k+1)*columns], m.ratio(k), 0, m.weight[k]*precision(m.scale), r.shared)
			}
		}
		if all.step(r.shared, 1e-3) {
			break
		}
	}
	for i, m := range samples {
		r.own[i] = make([]float64, columns)
		if warm != nil && i < len(warm.own) && len(warm.own[i]) == columns {
			copy(r.own[i], warm.own[i])
		}
		own := newNormal(ridgeOwn)
		offset := make([]float64, m.rows())
		for k := range offset {
			offset[k] = dot(designs[i][k*columns:(k+1)*columns], r.shared)
		}
		for range maxSteps {
			own.reset(columns)
			for k := range m.rows() {
				own.add(designs[i][k*columns:(k+1)*columns], m.ratio(k), offset[k], m.weight[k]*precision(m.scale), r.own[i])
			}
			if own.step(r.own[i], 1e-3) {
				break
			}
		}
		r.spread[i] = moments(m, func(k int) float64 {
			return m.scale * math.Exp(clamp(offset[k]+dot(designs[i][k*columns:(k+1)*columns], r.own[i])))
		})
	}
	return r
}

// precision weighs a day of a series of this mean against others, 1 for a mean of ten: the inverse of its relative variance.
func precision(mean float64) float64 {
	return math.Min(1/(1/mean+dispersed)*(0.1+dispersed), 3)
}

// mean is the regression's mean of a feature row of series i.
func (r *regression) mean(i int, scale float64, f []float64) float64 {
	var buf [maxColumns]float64
	n := design(f, scale, r.use, buf[:])
	if len(r.shared) != n {
		return scale
	}
	return scale * math.Exp(clamp(dot(buf[:n], r.shared)+dot(buf[:n], r.own[i])))
}

// moments estimates the spread a of variance = mean + a·mean² by weighted moments.
func moments(m *sample, mean func(int) float64) float64 {
	over, square := 0.0, 0.0
	for k := range m.rows() {
		mu := mean(k)
		over += m.weight[k] * ((m.y[k]-mu)*(m.y[k]-mu) - mu)
		square += m.weight[k] * mu * mu
	}
	if square == 0 {
		return priorSpread
	}
	return math.Max(over/square, minSpread)
}

const (
	minSpread   = 1e-3
	priorSpread = 0.15
	maxSteps    = 12
	maxEta      = 4.0 // a mean e⁴ times the usual is as far as the regression goes
)

func clamp(eta float64) float64 { return math.Max(-2*maxEta, math.Min(maxEta, eta)) }

func dot(a, b []float64) float64 {
	s := 0.0
	for i, x := range a {
		s += x * b[i]
	}
	return s
}

// normal gathers the normal equations of one step of reweighted least squares with a ridge.
type normal struct {
	p      int
	ridge  float64
	h      []float64 // upper triangle of X'WX, row by row in a square
	g      []float64 // X'W(residual)
	system *mat.SymDense
	chol   mat.Cholesky
}

func newNormal(ridge float64) *normal { return &normal{ridge: ridge} }

func (n *normal) reset(p int) {
	if n.p != p {
		n.p, n.h, n.g = p, make([]float64, p*p), make([]float64, p)
	}
	clear(n.h)
	clear(n.g)
}

// add takes one day: its design row, relative demand, offset and weight, at the present coefficients.
func (n *normal) add(x []float64, y, offset, weight float64, b []float64) {
	mu := math.Exp(clamp(offset + dot(x, b)))
	w := weight * mu
	g := weight * (y - mu)
	for i, xi := range x {
		if xi == 0 {
			continue
		}
		n.g[i] += g * xi
		wx := w * xi
		row := n.h[i*n.p : (i+1)*n.p]
		for j := i; j < n.p; j++ {
			row[j] += wx * x[j]
		}
	}
}

// step moves b by one Newton step and reports whether it had settled. The level (column 0) is hardly shrunk.
func (n *normal) step(b []float64, settled float64) bool {
	for i := range n.p {
		ridge := n.ridge
		if i == 0 {
			ridge = ridgeLevel
		}
		n.h[i*n.p+i] += ridge
		n.g[i] -= ridge * b[i]
	}
	n.system = mat.NewSymDense(n.p, n.h)
	if !n.chol.Factorize(n.system) {
		return true
	}
	var d mat.VecDense
	if err := n.chol.SolveVecTo(&d, mat.NewVecDense(n.p, n.g)); err != nil {
		return true
	}
	largest := 0.0
	for i := range b {
		largest = math.Max(largest, math.Abs(d.AtVec(i)))
	}
	part := 1.0
	if largest > 1 {
		part = 1 / largest // no step so long that the exponential runs away
	}
	for i := range b {
		b[i] += part * d.AtVec(i)
	}
	return largest < settled
}
