package forecast

import (
	"math"
	"time"
)

var utc = time.UTC

// The raw features of a day, seen from an origin: all that the learners may know of it.
const (
	fWeekday = iota
	fWeekend
	fFriday
	fSin1
	fCos1
	fSin2
	fCos2
	fTemp
	fRain
	fHum
	fHoliday
	fBefore // the day before was a holiday
	fAfter  // the day after is one
	fTrend  // years since the first day
	fM28    // mean of the last 28 known days
	fSame1  // the last same weekday
	fSame8  // mean of the last eight same weekdays
	fR7     // mean of the last 7 days / of 28
	fR1     // last same weekday / mean of 28
	fR4     // mean of the last four same weekdays / of 28
	fR8     // mean of the last eight same weekdays / of 56
	fR56    // mean of 28 / of 56
	fMonthDay
	features
)

// maxLag is the longest horizon that training rows pretend: a week, as forecasts are issued.
const maxLag = 7

// fill writes the features of day t as known at the end of day o into dst, and reports whether anything was known by then.
func (s *series) fill(t, o int, use [weathers]bool, dst []float64) bool {
	m28, ok := s.meanOfLast(28, o)
	if !ok {
		return false
	}
	dow := s.weekday[t]
	year := 2 * math.Pi * s.yearDay[t] / 365.25
	dst[fWeekday], dst[fWeekend], dst[fFriday] = float64(dow), indicator(dow >= 5), indicator(dow == 4)
	dst[fSin1], dst[fCos1] = math.Sincos(year)
	dst[fSin2], dst[fCos2] = math.Sincos(2 * year)
	for w, f := range [weathers]int{fTemp, fRain, fHum} {
		dst[f] = 0
		if use[w] {
			dst[f] = s.weather[w][t]
		}
	}
	dst[fHoliday], dst[fBefore], dst[fAfter] = s.holiday[t], at(s.holiday, t-1), at(s.holiday, t+1)
	dst[fTrend] = float64(t+s.since) / 365
	m7, _ := s.meanOfLast(7, o)
	m56, _ := s.meanOfLast(56, o)
	same1, same4, same8 := s.sameWeekdays(t, o, m28)
	floor := 1e-6 + 0.02*m56 // where next to nothing is sold, ratios say little
	dst[fM28], dst[fSame1], dst[fSame8] = m28, same1, same8
	dst[fR7], dst[fR1], dst[fR4] = m7/(m28+floor), same1/(m28+floor), same4/(m28+floor)
	dst[fR8], dst[fR56] = same8/(m56+floor), m28/(m56+floor)
	dst[fMonthDay] = s.monthDay[t]
	return true
}

// sameWeekdays returns the last known same weekday and the means of the last four and eight weeks' same weekdays up to day o;
// otherwise where there is none.
func (s *series) sameWeekdays(t, o int, otherwise float64) (one, four, eight float64) {
	sum, n, weeks := 0.0, 0.0, 0
	one, four = otherwise, otherwise
	for d := t - 7; d >= 0 && weeks < 8; d -= 7 {
		if d > o {
			continue
		}
		weeks++
		if y := s.y[d]; !math.IsNaN(y) {
			if n == 0 {
				one = y
			}
			sum, n = sum+y, n+1
		}
		if weeks <= 4 && n > 0 {
			four = sum / n
		}
	}
	if n == 0 {
		return one, four, otherwise
	}
	return one, four, sum / n
}

func at(xs []float64, i int) float64 {
	if i < 0 || i >= len(xs) {
		return 0
	}
	return xs[i]
}

func indicator(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// lagOf spreads the horizons 1 … maxLag over the training days without regard to weekday: a fixed mixing of the day's number
// (the finaliser of splitmix64, from memory).
func lagOf(t int) int {
	return 1 + int(mixed(uint64(t))%maxLag)
}

func mixed(x uint64) uint64 {
	x = x*0x9e3779b97f4a7c15 + 0x9e3779b97f4a7c15
	x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9
	x = (x ^ (x >> 27)) * 0x94d049bb133111eb
	return x ^ (x >> 31)
}
