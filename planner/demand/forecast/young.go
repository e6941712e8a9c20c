package forecast

import "math"

// The first weeks of a series: its own days say little, so its forecast is mixed with that of a stand-in, scaled to the days known so far.
// The stand-in is the drink that Ahead.Like names, in the same day part, or else the mean of the other series. Guesses: common practice,
// no source; see TestANewDrinkIsForecastFromAnotherInItsFirstDays.
const (
	youngDays     = 28  // known days from which a series stands by itself
	ownDays       = 7   // known days at which its own forecast has half the weight
	likeDays      = 1   // weight, in days, of the prior that it sells as much as the drink it is like
	othersDays    = 0.2 // the same of the mean of the others, which says little about its size
	likeSpread    = 0.3 // variance of the relative error of the drink it is like, without a known day
	scaleVariance = 0.15
)

// likeOf is the index of the series that stands in for a row's, −1 if it names none that is known.
func (st *State) likeOf(index map[SeriesKey]int, r *Ahead) int {
	if r.Like == "" || r.Like == r.Drink {
		return -1
	}
	if i, ok := index[st.keyOf(SeriesKey{DayPart: r.DayPart, Drink: r.Like})]; ok && i < len(st.tails) {
		return i
	}
	return -1
}

// predictYoung is predict for a series with few known days, n of them or none.
func (st *State) predictYoung(p target, n float64, own *[gridSize]float64, mean float64) (*[gridSize]float64, float64) {
	var known []*series
	if p.like >= 0 {
		known = p.axis[p.like : p.like+1]
	} else {
		for i, s := range p.axis[:len(st.tails)] {
			if i != p.i && s.count[len(s.y)] >= youngDays {
				known = append(known, s)
			}
		}
	}
	if len(known) == 0 || n == 0 && p.like < 0 {
		return own, mean
	}
	stand, standMean := st.standIn(p, known)
	if !(standMean > 0) {
		return own, mean
	}
	sum, expected := 0.0, 0.0
	if p.i >= 0 {
		for t, y := range p.s.y[:p.o+1] {
			if math.IsNaN(y) {
				continue
			}
			if usual, ok := meanDemand(known, t); ok {
				sum, expected = sum+y, expected+usual
			}
		}
	}
	days, spread := othersDays, scaleVariance
	if p.like >= 0 {
		days, spread = likeDays, likeSpread
	}
	usual, ok := meanOfLastDays(known, p.o)
	if !ok {
		return own, mean
	}
	ratio := (sum + days*usual) / (expected + days*usual)
	variance := spread / (1 + n)
	addRelativeVariance(stand[:], variance)
	weight := n / (n + ownDays)
	for l := range own {
		own[l] = weight*own[l] + (1-weight)*ratio*stand[l]
	}
	return own, weight*mean + (1-weight)*ratio*standMean
}

// standIn is the mean forecast of the known series for the day of p.
func (st *State) standIn(p target, known []*series) (q [gridSize]float64, mean float64) {
	for i, s := range p.axis[:len(st.tails)] {
		for _, k := range known {
			if k != s {
				continue
			}
			other := p
			other.key, other.s, other.i, other.like, other.o = s.key, s, i, -1, min(s.last, p.t-1)
			otherQ, m := st.predictOwn(other)
			for l := range q {
				q[l] += otherQ[l] / float64(len(known))
			}
			mean += m / float64(len(known))
		}
	}
	return q, mean
}

// meanDemand is the mean demand of the series on day t; ok is false if none is known.
func meanDemand(all []*series, t int) (mean float64, ok bool) {
	sum, n := 0.0, 0.0
	for _, s := range all {
		if !math.IsNaN(s.y[t]) {
			sum, n = sum+s.y[t], n+1
		}
	}
	return sum / n, n > 0
}

// meanOfLastDays is the mean over the series of their means over four weeks up to day o.
func meanOfLastDays(all []*series, o int) (mean float64, ok bool) {
	n := 0.0
	for _, s := range all {
		if m, known := s.meanOfLast(28, o); known {
			mean, n = mean+m, n+1
		}
	}
	return mean / n, n > 0 && mean > 0
}
