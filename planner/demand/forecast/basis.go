package forecast

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// etaOf is the regression's log mean of a feature row.
func (f *fitted) etaOf(p place, x *[features]float64) float64 {
	scale := p.s.scaleFor(f, p.i, p.o)
	return math.Log(f.Regression.mean(p.i, scale, x[:]))
}

// sway is how far a wrong temperature moves the day's mean: the change of its logarithm for one standard error, °C.
func (f *fitted) sway(p place, c *climate, errorC float64) float64 {
	var x [features]float64
	if !p.s.fill(p.t, p.o, c.Use, x[:]) {
		return 0
	}
	x[fTemp] += errorC
	up := f.etaOf(p, &x)
	x[fTemp] -= 2 * errorC
	return math.Abs(up-f.etaOf(p, &x)) / 2
}

// least is the smallest effect worth a word.
const least = 0.03

// SpeakIn sets how what a forecast rests on writes temperatures, given in °C; "29 °C" where it is not set.
func (st *State) SpeakIn(temp func(c float64) string) { st.temp = temp }

func (st *State) degrees(c float64) string {
	if st.temp == nil {
		return fmt.Sprintf("%.0f °C", c)
	}
	return st.temp(c)
}

// basis says what a day's forecast rests on, and what moves it by how much by the regression: against an average weekday, the
// weather usual at this time of the year, no rain, no holiday, and the usual level.
func (st *State) basis(p place) string {
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
		seen += fmt.Sprintf(", %d above %s", t.Warm[day], st.degrees(st.climate.Hot))
	}
	var x [features]float64
	if !p.s.fill(p.t, p.o, st.climate.Use, x[:]) {
		return seen
	}
	full := st.fitted.etaOf(p, &x)
	var parts []string
	effect := func(of string, without func(y *[features]float64)) {
		y := x
		without(&y)
		if e := math.Expm1(full - st.fitted.etaOf(p, &y)); math.Abs(e) >= least {
			parts = append(parts, fmt.Sprintf("%+.0f %% %s", 100*e, of))
		}
	}
	week := 0.0
	for d := range 7 {
		y := x
		y[fWeekday], y[fWeekend] = float64(d), indicator(d >= 5)
		week += st.fitted.etaOf(p, &y) / 7
	}
	if e := math.Expm1(full - week); math.Abs(e) >= least {
		parts = append(parts, fmt.Sprintf("%+.0f %% for the weekday", 100*e))
	}
	if st.climate.Use[wTemp] {
		effect("for "+st.degrees(x[fTemp]), func(y *[features]float64) { y[fTemp] = st.climate.Usual[wTemp][tenth(p.s.yearDay[p.t])] })
	}
	if st.climate.Use[wRain] {
		effect("for the rain", func(y *[features]float64) { y[fRain] = 0 })
	}
	effect("for the holiday", func(y *[features]float64) { y[fHoliday] = 0 })
	effect("for the last weeks", func(y *[features]float64) {
		y[fM28], y[fR7], y[fR4], y[fR8] = st.fitted.Scale[p.i], 1, 1, 1
	})
	if len(parts) > 0 {
		seen += "; " + strings.Join(parts, ", ")
	}
	if p.temp() > st.climate.Hotter && st.climate.Use[wTemp] {
		seen += "; hotter than any day known (" + st.degrees(st.climate.Hotter) + "): a guess beyond it"
	}
	return seen
}
