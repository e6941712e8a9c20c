package forecast

import "math"

// sample is the days of one series that learners are fitted to, up to an origin: features row by row, demand, weight by age.
type sample struct {
	s      *series
	index  int // of the series among all
	scale  float64
	x      []float64 // rows × features
	y      []float64
	weight []float64
}

func (m *sample) rows() int           { return len(m.y) }
func (m *sample) row(i int) []float64 { return m.x[i*features : (i+1)*features] }
func (m *sample) ratio(i int) float64 { return m.y[i] / m.scale }
func (m *sample) logScale() float64   { return math.Log(m.scale) }

// forget is the weight that a day loses with each day of age.
const forget = 0.998

// warmUp is the number of days of a long series that only give lags, no training rows.
const warmUp = 30

// take gathers the training rows of a series known at the end of day o. A series without a single known day has none and is
// scaled by 1.
func take(s *series, index, o int, use seasons) *sample {
	m := &sample{s: s, index: index, scale: 1}
	mean, ok := s.mean(0, o+1)
	if !ok {
		return m
	}
	m.scale = math.Max(mean, 1e-3)
	known := int(s.count[o+1])
	skip := min(warmUp, known/4)
	m.x = make([]float64, 0, known*features)
	m.y = make([]float64, 0, known)
	m.weight = make([]float64, 0, known)
	var buf [features]float64
	for t := range o + 1 {
		if math.IsNaN(s.y[t]) || int(s.count[t]) < skip {
			continue
		}
		if !s.fill(t, t-lagOf(t), use, buf[:]) {
			continue
		}
		m.x = append(m.x, buf[:]...)
		m.y = append(m.y, s.y[t])
		m.weight = append(m.weight, math.Pow(forget, float64(o-t)))
	}
	return m
}
