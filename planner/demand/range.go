package demand

import "math"

// Range is the distribution of the servings asked for in one row. The zero value is no demand at all.
type Range struct {
	mean  float64
	basis string
	shape shape // nil: none
}

// shape is a distribution of servings ≥ 0, up to the scale of its mean.
type shape interface {
	quantile(level float64) float64 // level within [minLevel, maxLevel]
	scaled(factor float64) shape
	fill(dst []float64) // the quantiles at the scores of a Table
}

// None is a row in which nothing is asked for.
func None(basis string) Range { return Range{basis: basis} }

// Mean returns the expected servings.
func (r Range) Mean() float64 { return r.mean }

// Basis says in words where the range comes from.
func (r Range) Basis() string { return r.basis }

// WithBasis returns the range with another basis.
func (r Range) WithBasis(basis string) Range {
	r.basis = basis
	return r
}

// Quantile returns the servings that demand stays at or below with the probability level. Levels beyond ±4 standard normal
// deviations are read as that far; the result is finite, ≥ 0 and never falls as level rises.
func (r Range) Quantile(level float64) float64 {
	if r.shape == nil {
		return 0
	}
	return r.shape.quantile(clampLevel(level))
}

// Sample returns the servings of a uniform u in [0, 1): the same u gives the same day, whatever else is drawn.
func (r Range) Sample(u float64) float64 { return r.Quantile(u) }

// P10 is the servings that one row in ten stays at or below.
func (r Range) P10() float64 { return r.Quantile(0.1) }

// P50 is the median.
func (r Range) P50() float64 { return r.Quantile(0.5) }

// P90 is the servings that nine rows in ten stay at or below.
func (r Range) P90() float64 { return r.Quantile(0.9) }

// Scaled returns the range with factor times the mean, for an event or for the part of a row that is still to come. A guess
// keeps its rule (variance m + 0.04·m² at the new mean), other ranges their relative spread. A factor ≤ 0 gives none.
func (r Range) Scaled(factor float64) Range {
	if !(factor > 0) || r.shape == nil || math.IsInf(factor, 1) {
		return None(r.basis)
	}
	return Range{mean: r.mean * factor, basis: r.basis, shape: r.shape.scaled(factor)}
}

// Variance returns the variance of the servings, from the table.
func (r Range) Variance() float64 { return r.Table().Variance() }

// tableSteps is the number of steps of a table on each unit of the score.
const (
	tableSteps = 8
	tableSize  = 2*int(maxScore)*tableSteps + 1
)

// Table is a range tabulated by standard normal score, for simulations that draw millions of rows: At takes a score, so that
// correlated rows cost one interpolation each. Its mean is the range's.
type Table struct {
	q [tableSize]float64
}

// tableWeights are the weights of the expectation of a function of the score that is linear between the table's points.
var tableWeights = func() (w [tableSize]float64) {
	const h = 1.0 / tableSteps
	for i := range tableSize - 1 {
		a := -maxScore + float64(i)*h
		p, m := phi(a+h)-phi(a), density(a)-density(a+h) // ∫φ and ∫zφ over the step
		up := (m - a*p) / h
		w[i] += p - up
		w[i+1] += up
	}
	w[0] += phi(-maxScore)
	w[tableSize-1] += phi(-maxScore)
	return w
}()

// Table tabulates the range.
func (r Range) Table() *Table {
	t := &Table{}
	if r.shape == nil {
		return t
	}
	r.shape.fill(t.q[:])
	m := t.Mean()
	if !(m > 0) { // so little that it lies beyond the last score
		t.q[tableSize-1] = r.mean / tableWeights[tableSize-1]
		return t
	}
	for i := range t.q {
		t.q[i] *= r.mean / m
	}
	return t
}

// At returns the servings at a standard normal score; scores beyond ±4 are read as ±4.
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

// Variance is the variance of At over a standard normal score, by the trapezoid over the table.
func (t *Table) Variance() float64 {
	m := t.Mean()
	var v float64
	for i, w := range tableWeights {
		v += w * (t.q[i] - m) * (t.q[i] - m)
	}
	return v
}

// Dispersed returns the part of the variance that exceeds the noise of counting (variance = mean): what the level of the day
// can move. Between 0 (Poisson) and nearly 1.
func (t *Table) Dispersed() float64 {
	m, v := t.Mean(), t.Variance()
	if !(v > m) {
		return 0
	}
	return 1 - m/v
}

// fillByQuantile tabulates a shape point by point.
func fillByQuantile(s shape, dst []float64) {
	for i := range dst {
		dst[i] = s.quantile(clampLevel(phi(-maxScore + float64(i)/tableSteps)))
	}
}
