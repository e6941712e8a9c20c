package demand

import "math"

// Range is the distribution of the servings demanded in one row. The zero value is no demand.
type Range struct {
	mean  float64
	basis Basis
	dist  distribution // nil: no demand
}

// distribution is a distribution of servings ≥ 0. [Range.Table] scales it to the exact mean.
type distribution interface {
	quantile(level float64) float64 // level within [minLevel, maxLevel]
	scaled(factor float64) distribution
	tabulate(dst []float64) // the quantiles at the scores of a Table
}

// Mean returns the expected servings.
func (r Range) Mean() float64 { return r.mean }

// Basis returns the origin of the range.
func (r Range) Basis() Basis { return r.basis }

// Quantile returns the servings that demand does not exceed with probability level. Levels are clamped to those of ±4 standard
// normal scores; the result is finite, ≥ 0 and non-decreasing in level.
func (r Range) Quantile(level float64) float64 {
	if r.dist == nil {
		return 0
	}
	return r.dist.quantile(clampLevel(level))
}

// Sample returns the servings for a uniform u in [0, 1), by inverse transform.
func (r Range) Sample(u float64) float64 { return r.Quantile(u) }

// P10 is the 10 % quantile.
func (r Range) P10() float64 { return r.Quantile(0.1) }

// P50 is the median.
func (r Range) P50() float64 { return r.Quantile(0.5) }

// P90 is the 90 % quantile.
func (r Range) P90() float64 { return r.Quantile(0.9) }

// Scaled returns the range with factor times the mean, for an event or the remaining part of a row. A guess follows its rule
// (variance m + 0.04·m²) at the new mean, other ranges keep their relative spread. A factor ≤ 0 gives a range without demand.
func (r Range) Scaled(factor float64) Range {
	if !(factor > 0) || r.dist == nil || math.IsInf(factor, 1) {
		return Range{basis: r.basis}
	}
	return Range{mean: r.mean * factor, basis: r.basis, dist: r.dist.scaled(factor)}
}

// Variance returns the variance of the servings, computed from the table.
func (r Range) Variance() float64 { return r.Table().Variance() }

// tableSteps is the number of steps of a table per unit of score.
const (
	tableSteps = 8
	tableSize  = 2*int(maxScore)*tableSteps + 1
)

// Table is a range tabulated by standard normal score, for simulations that draw millions of rows: At interpolates at a score,
// which may be correlated with those of other rows. Its mean is the range's.
type Table struct {
	q [tableSize]float64
}

// tableWeights integrate a function that is linear between the points of a table over the standard normal density.
var tableWeights = func() (w [tableSize]float64) {
	const h = 1.0 / tableSteps
	for i := range tableSize - 1 {
		a := -maxScore + float64(i)*h
		p, m := normalCDF(a+h)-normalCDF(a), normalPDF(a)-normalPDF(a+h) // ∫φ and ∫zφ over the step
		up := (m - a*p) / h
		w[i] += p - up
		w[i+1] += up
	}
	w[0] += normalCDF(-maxScore)
	w[tableSize-1] += normalCDF(-maxScore)
	return w
}()

// Table tabulates the range.
func (r Range) Table() *Table {
	t := &Table{}
	if r.dist == nil {
		return t
	}
	r.dist.tabulate(t.q[:])
	m := t.Mean()
	if !(m > 0) { // all of the demand is beyond the last score
		t.q[tableSize-1] = r.mean / tableWeights[tableSize-1]
		return t
	}
	for i := range t.q {
		t.q[i] *= r.mean / m
	}
	return t
}

// At returns the servings at a standard normal score, clamped to ±4.
func (t *Table) At(z float64) float64 {
	x := (z + maxScore) * tableSteps
	if !(x > 0) {
		return t.q[0]
	}
	i := int(x)
	if i >= tableSize-1 {
		return t.q[tableSize-1]
	}
	return t.q[i] + (x-float64(i))*(t.q[i+1]-t.q[i])
}

// Mean is the expectation of At over a standard normal score.
func (t *Table) Mean() float64 {
	var m float64
	for i, w := range tableWeights {
		m += w * t.q[i]
	}
	return m
}

// Variance is the variance of At over a standard normal score.
func (t *Table) Variance() float64 {
	m := t.Mean()
	var v float64
	for i, w := range tableWeights {
		v += w * (t.q[i] - m) * (t.q[i] - m)
	}
	return v
}

// Overdispersion returns the share of the variance in excess of Poisson (variance = mean), the part that the level of the day can
// explain: 0 for Poisson, always below 1.
func (t *Table) Overdispersion() float64 {
	m, v := t.Mean(), t.Variance()
	if !(v > m) {
		return 0
	}
	return 1 - m/v
}

// tabulateQuantiles tabulates a distribution point by point.
func tabulateQuantiles(s distribution, dst []float64) {
	for i := range dst {
		dst[i] = s.quantile(clampLevel(normalCDF(-maxScore + float64(i)/tableSteps)))
	}
}
