package forecast

import (
	"math"
	"sort"
)

// sample is the training data of one series up to an origin: demand relative to the series' mean, with weights that decay with
// age.
type sample struct {
	s        *series
	index    int // of the series
	scale    float64
	from, to int       // rows of the series, to excluded
	ratio    []float64 // demand / scale
	weight   []float64
	design   []float32 // of the regression, row by row
	regMean  []float64 // fitted mean of the regression / scale
}

func (m *sample) rows() int           { return m.to - m.from }
func (m *sample) row(i int) []float32 { return m.s.x[(m.from+i)*features : (m.from+i+1)*features] }
func (m *sample) day(i int) int       { return m.s.days[m.from+i] }
func (m *sample) y(i int) float64     { return m.s.y[m.day(i)] }

// dailyDecay is the factor on a day's weight for each day of age.
const dailyDecay = 0.998

// lagOnlyDays is the number of first days of a long series that only provide lags, not training rows.
const lagOnlyDays = 30

// prepareRows computes the features and the design of each day with known demand. They do not depend on the forecast origin,
// since each day has its own horizon.
func (s *series) prepareRows(use [weatherVars]bool) {
	if s.borrowed {
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
		if math.IsNaN(y) || !s.fillFeatures(t, t-trainingHorizon(t+s.since), use, x[:]) {
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

// newSample collects the training rows of a series up to and including day o. A series without a known day has none, and the
// scale of its borrowed demand, or 1.
func newSample(s *series, index, o int, use [weatherVars]bool) *sample {
	m := &sample{s: s, index: index, scale: 1}
	mean, ok := s.meanTo(o)
	if !ok {
		return m
	}
	m.scale = math.Max(mean, 1e-3)
	skip := min(lagOnlyDays, int(s.count[o+1]/4))
	m.to = sort.SearchInts(s.days, o+1)
	m.from = sort.Search(m.to, func(i int) bool { return int(s.count[s.days[i]]) >= skip })
	n, columns := m.rows(), designColumns(use)
	m.ratio, m.weight, m.regMean = make([]float64, n), make([]float64, n), make([]float64, n)
	if n == 0 {
		return m
	}
	precision := m.precision()
	m.design = s.design[m.from*columns : m.to*columns]
	for i := range n {
		m.ratio[i] = m.y(i) / m.scale
		m.weight[i] = ageWeight[min(o-m.day(i), len(ageWeight)-1)] * precision * math.Min(1, s.share[m.day(i)])
		m.design[i*columns+levelColumn] = float32(boundedLog(float64(m.row(i)[fM28]) / m.scale))
	}
	return m
}

// samplesOf collects the training rows of all series up to and including day o.
func samplesOf(all []*series, o int, use [weatherVars]bool) []*sample {
	samples := make([]*sample, len(all))
	for i, s := range all {
		samples[i] = newSample(s, i, o, use)
	}
	return samples
}

// precision is the weight of a day of this series relative to other series: the inverse of the relative variance of a naive
// forecast (the mean of eight same weekdays), 1 where that is average. It does not depend on the unit of demand.
func (m *sample) precision() float64 {
	const prior, usual, floor = 5.0, 0.15, 0.05
	sum := prior * usual
	for i := range m.rows() {
		e := (m.y(i) - float64(m.row(i)[fSame8])) / m.scale
		sum += math.Min(e*e, 9)
	}
	return usual / math.Max(sum/(float64(m.rows())+prior)*8/9, floor)
}

// ageWeight is dailyDecay to the power of the age in days.
var ageWeight = func() (w [4000]float64) {
	for i := range w {
		w[i] = math.Pow(dailyDecay, float64(i))
	}
	return w
}()
