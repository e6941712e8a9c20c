package forecast

import (
	"fmt"
	"math"
	"strings"
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

// SpeakIn sets how basis texts write temperatures, given in °C; the default is "29 °C".
func (st *State) SpeakIn(format func(c float64) string) { st.tempFormat = format }

func (st *State) formatTemp(c float64) string {
	if st.tempFormat == nil {
		return fmt.Sprintf("%.0f °C", c)
	}
	return st.tempFormat(c)
}

// basis describes the data behind a forecast and the effects in it, as estimated by the regression against an average weekday,
// the usual weather of the season, no rain, no holiday, and the usual level.
func (st *State) basis(p target) string {
	if p.i < 0 {
		return "no day of it is known: a guess from the other series"
	}
	t := &st.tails[p.i]
	day := p.s.weekday[p.t]
	name := time.Weekday((day + 1) % 7).String()
	seen := fmt.Sprintf("%d %ss", t.Seen[day], name)
	if t.Seen[day] == 1 {
		seen = "1 " + name
	}
	if st.climate.Use[wTemp] && t.Warm[day] > 0 && !math.IsInf(st.climate.Hot, 0) {
		seen += fmt.Sprintf(", %d above %s", t.Warm[day], st.formatTemp(st.climate.Hot))
	}
	var x [features]float64
	if !p.s.fillFeatures(p.t, p.o, st.climate.Use, x[:]) {
		return seen
	}
	full := st.learners.logMean(p, &x)
	var parts []string
	effect := func(of string, without func(y *[features]float64)) {
		y := x
		without(&y)
		if e := math.Expm1(full - st.learners.logMean(p, &y)); math.Abs(e) >= minEffect {
			parts = append(parts, fmt.Sprintf("%+.0f %% %s", 100*e, of))
		}
	}
	week := 0.0
	for d := range 7 {
		y := x
		y[fWeekday], y[fWeekend] = float64(d), indicator(d >= 5)
		week += st.learners.logMean(p, &y) / 7
	}
	if e := math.Expm1(full - week); math.Abs(e) >= minEffect {
		parts = append(parts, fmt.Sprintf("%+.0f %% for the weekday", 100*e))
	}
	if st.climate.Use[wTemp] {
		effect("for "+st.formatTemp(x[fTemp]), func(y *[features]float64) { y[fTemp] = st.climate.Usual[wTemp][tenDaySpan(p.s.yearDay[p.t])] })
	}
	if st.climate.Use[wRain] {
		effect("for the rain", func(y *[features]float64) { y[fRain] = 0 })
	}
	effect("for the holiday", func(y *[features]float64) { y[fHoliday] = 0 })
	effect("for the last weeks", func(y *[features]float64) {
		y[fM28], y[fR7], y[fR4], y[fR8] = st.learners.Scale[p.i], 1, 1, 1
	})
	if len(parts) > 0 {
		seen += "; " + strings.Join(parts, ", ")
	}
	if p.tempC() > st.climate.Hotter && st.climate.Use[wTemp] {
		seen += "; hotter than any day known (" + st.formatTemp(st.climate.Hotter) + "): a guess beyond it"
	}
	return seen
}
