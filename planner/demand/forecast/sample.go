package forecast

import (
	"math"
	"sort"
)

// sample is the days of one series that learners are fitted to, up to an origin: demand relative to the series' mean, weight by
// age.
type sample struct {
	s        *series
	index    int // of the series among all
	scale    float64
	from, to int       // rows of the series
	ratio    []float64 // demand / scale
	weight   []float64
	design   []float32 // regression's columns, row by row
	lead     []float64 // the regression's mean relative to scale
}

func (m *sample) rows() int           { return m.to - m.from }
func (m *sample) row(i int) []float32 { return m.s.x[(m.from+i)*features : (m.from+i+1)*features] }
func (m *sample) day(i int) int       { return m.s.days[m.from+i] }
func (m *sample) y(i int) float64     { return m.s.y[m.day(i)] }

// forget is the weight that a day loses with each day of age.
const forget = 0.998

// warmUp is the number of days of a long series that only give lags, no training rows.
const warmUp = 30

// prepare computes the features and the design of every day that can be learnt from. They do not depend on the origin: a day is
// seen from its own lag.
func (s *series) prepare(use [weathers]bool) {
	if s.guessed {
		return
	}
	known := int(s.count[len(s.y)] - s.count[0])
	columns := designColumns(use)
	s.days = make([]int, 0, known)
	s.x = make([]float32, 0, known*features)
	s.design = make([]float32, 0, known*columns)
	var x [features]float64
	var row [maxColumns]float64
	for t, y := range s.y {
		if math.IsNaN(y) || !s.fill(t, t-lagOf(t+s.since), use, x[:]) {
			continue
		}
		s.days = append(s.days, t)
		for _, f := range x {
			s.x = append(s.x, float32(f))
		}
		design(x[:], 1, use, row[:])
		for _, c := range row[:columns] {
			s.design = append(s.design, float32(c))
		}
	}
}

// take gathers the training rows of a series known at the end of day o. A series without a single known day has none and is
// scaled by what it borrowed, or by 1.
func take(s *series, index, o int, use [weathers]bool) *sample {
	m := &sample{s: s, index: index, scale: 1}
	mean, ok := s.usual(o)
	if !ok {
		return m
	}
	m.scale = math.Max(mean, 1e-3)
	skip := min(warmUp, int(s.count[o+1]/4))
	m.to = sort.SearchInts(s.days, o+1)
	m.from = sort.Search(m.to, func(i int) bool { return int(s.count[s.days[i]]) >= skip })
	n, columns := m.rows(), designColumns(use)
	m.ratio, m.weight, m.lead = make([]float64, n), make([]float64, n), make([]float64, n)
	if n == 0 {
		return m
	}
	precision := m.precision()
	m.design = s.design[m.from*columns : m.to*columns]
	for i := range n {
		m.ratio[i] = m.y(i) / m.scale
		m.weight[i] = agedBy[min(o-m.day(i), len(agedBy)-1)] * precision * math.Min(1, s.share[m.day(i)])
		m.design[i*columns+levelColumn] = float32(logOf(float64(m.row(i)[fM28]) / m.scale))
	}
	return m
}

// precision weighs a day of this series against those of others, 1 where the relative variance of a day is usual: the inverse of
// its relative variance as a naive forecast (the mean of eight same weekdays) leaves it. It does not depend on the unit in which
// demand is counted.
func (m *sample) precision() float64 {
	const prior, usual, floor = 5.0, 0.15, 0.05
	sum := prior * usual
	for i := range m.rows() {
		e := (m.y(i) - float64(m.row(i)[fSame8])) / m.scale
		sum += math.Min(e*e, 9)
	}
	return usual / math.Max(sum/(float64(m.rows())+prior)*8/9, floor)
}

// agedBy is forget to the power of the age in days.
var agedBy = func() (w [4000]float64) {
	for i := range w {
		w[i] = math.Pow(forget, float64(i))
	}
	return w
}()
