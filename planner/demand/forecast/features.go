package forecast

import "math"

// Features of a day as known at the forecast origin.
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
	fHolidayBefore // holiday on the day before
	fHolidayAfter  // holiday on the day after
	fTrend         // years since the first day
	fM28           // mean of the last 28 known days
	fSame1         // the last same weekday
	fSame8         // mean of the last eight same weekdays
	fR7            // mean of the last 7 days / of 28
	fR1            // last same weekday / mean of 28
	fR4            // mean of the last four same weekdays / of 28
	fR8            // mean of the last eight same weekdays / of 56
	fR56           // mean of 28 / of 56
	fMonthDay
	features
)

// maxHorizon is the longest horizon of training rows, in days: forecasts are issued for a week.
const maxHorizon = 7

// fillFeatures writes the features of day t as known at the end of day o into dst; false if there was no known day by then.
func (s *series) fillFeatures(t, o int, use [weatherVars]bool, dst []float64) bool {
	m28, ok := s.meanOfLast(28, o)
	if !ok {
		return false
	}
	dow := s.weekday[t]
	year := 2 * math.Pi * s.yearDay[t] / 365.25
	dst[fWeekday], dst[fWeekend], dst[fFriday] = float64(dow), indicator(dow >= 5), indicator(dow == 4)
	dst[fSin1], dst[fCos1] = math.Sincos(year)
	dst[fSin2], dst[fCos2] = math.Sincos(2 * year)
	for w, f := range [weatherVars]int{fTemp, fRain, fHum} {
		dst[f] = 0
		if use[w] {
			dst[f] = s.weather[w][t]
		}
	}
	dst[fHoliday], dst[fHolidayBefore], dst[fHolidayAfter] = s.holiday[t], valueAt(s.holiday, t-1), valueAt(s.holiday, t+1)
	if s.apart[t] {
		dst[fHoliday] = 0
	}
	dst[fTrend] = float64(t+s.since) / 365
	m7, _ := s.meanOfLast(7, o)
	m56, _ := s.meanOfLast(56, o)
	same1, same4, same8 := s.sameWeekdays(t, o, m28)
	floor := 1e-6 + 0.02*m56 // keeps ratios bounded where hardly anything sells
	dst[fM28], dst[fSame1], dst[fSame8] = m28, same1, same8
	dst[fR7], dst[fR1], dst[fR4] = m7/(m28+floor), same1/(m28+floor), same4/(m28+floor)
	dst[fR8], dst[fR56] = same8/(m56+floor), m28/(m56+floor)
	dst[fMonthDay] = s.monthDay[t]
	return true
}

// sameWeekdays returns the last known same weekday and the means over the last four and eight weeks up to day o, fallback where
// there is none.
func (s *series) sameWeekdays(t, o int, fallback float64) (one, four, eight float64) {
	sum, n, weeks := 0.0, 0.0, 0
	one, four = fallback, fallback
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
		return one, four, fallback
	}
	return one, four, sum / n
}

// valueAt is xs[i], 0 outside of xs.
func valueAt(xs []float64, i int) float64 {
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

// trainingHorizon spreads the horizons 1 … maxHorizon over the training days, independent of the weekday: a hash of the day's
// number.
func trainingHorizon(t int) int {
	return 1 + int(splitmix64(uint64(t))%maxHorizon)
}

// splitmix64 is the mixing function of the generator of that name (from memory).
func splitmix64(x uint64) uint64 {
	x = x*0x9e3779b97f4a7c15 + 0x9e3779b97f4a7c15
	x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9
	x = (x ^ (x >> 27)) * 0x94d049bb133111eb
	return x ^ (x >> 31)
}
