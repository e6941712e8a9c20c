package forecast

import (
	"math"
	"time"
)

// logMean is the log of the regression's mean for a feature row.
func (f *learners) logMean(p target, x *[features]float64) float64 {
	scale := p.s.scaleFor(f, p.i, p.o)
	return math.Log(f.Regression.mean(p.i, scale, x[:]))
}

// tempSensitivity is the change of the log mean for a temperature error of errorC °C.
func (f *learners) tempSensitivity(p target, c *climate, errorC float64) float64 {
	var x [features]float64
	if !p.s.fillFeatures(p.t, p.o, c.Use, x[:]) {
		return 0
	}
	x[fTemp] += errorC
	up := f.logMean(p, &x)
	x[fTemp] -= 2 * errorC
	return math.Abs(up-f.logMean(p, &x)) / 2
}

// minEffect is the smallest relative effect worth mentioning.
const minEffect = 0.03

// basis lists the data behind a forecast and the effects in it, as estimated by the regression against an average weekday, the
// usual weather of the season, no rain, no holiday, and the usual level.
func (st *State) basis(p target) []Note {
	if p.i < 0 && p.like >= 0 {
		return []Note{{Code: StandIn}}
	}
	if p.i < 0 {
		return []Note{{Code: ColdStart}}
	}
	t, useTemp := &st.tails[p.i], st.climate.Use[wTemp]
	day := p.s.weekday[p.t]
	days := Note{Code: Weekdays, Weekday: time.Weekday((day + 1) % 7), Days: t.Seen[day]}
	if useTemp && !math.IsInf(st.climate.Hot, 0) {
		days.WarmDays, days.TempC = t.Warm[day], st.climate.Hot
	}
	notes := []Note{days}
	if n := int(p.s.count[len(p.s.y)]); p.like >= 0 && n < youngDays {
		notes = append(notes, Note{Code: StandIn, Days: n})
	}
	var x [features]float64
	if !p.s.fillFeatures(p.t, p.o, st.climate.Use, x[:]) {
		return notes
	}
	full := st.learners.logMean(p, &x)
	effect := func(n Note, logWithout float64) {
		if n.Effect = math.Expm1(full - logWithout); math.Abs(n.Effect) >= minEffect {
			notes = append(notes, n)
		}
	}
	without := func(change func(y *[features]float64)) float64 {
		y := x
		change(&y)
		return st.learners.logMean(p, &y)
	}
	week := 0.0
	for d := range 7 {
		week += without(func(y *[features]float64) { y[fWeekday], y[fWeekend] = float64(d), indicator(d >= 5) }) / 7
	}
	effect(Note{Code: WeekdayEffect}, week)
	if useTemp {
		effect(Note{Code: TempEffect, TempC: x[fTemp]}, without(func(y *[features]float64) { y[fTemp] = st.climate.Usual[wTemp][tenDaySpan(p.s.yearDay[p.t])] }))
	}
	if st.climate.Use[wRain] {
		effect(Note{Code: RainEffect}, without(func(y *[features]float64) { y[fRain] = 0 }))
	}
	if !p.s.apart[p.t] {
		effect(Note{Code: HolidayEffect}, without(func(y *[features]float64) { y[fHoliday] = 0 }))
	}
	effect(Note{Code: LevelEffect}, without(func(y *[features]float64) {
		y[fM28], y[fR7], y[fR4], y[fR8] = st.learners.Scale[p.i], 1, 1, 1
	}))
	if useTemp && p.tempC() > st.climate.Hotter {
		notes = append(notes, Note{Code: BeyondHistory, KnownC: st.climate.Hotter})
	}
	return notes
}
