package say

import (
	"math"
	"strconv"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say/quantity"
	"hotday/planner/say/words"
)

// What follows writes quantities inside sentences, in metric units with an ordinary space and the decimals that the sentence asks for.

// plainVoice is that of what belongs to no site: English, metric, 24 h.
func Plain() Voice { return Voice{words.In(words.English), quantity.Metric(time.UTC)} }

// digits is a bare number in a sentence.
func Digits(x float64, decimals int) string { return strconv.FormatFloat(x, 'f', decimals, 64) }

// about is a mass as a person reads it: whole grams, tenths of a kg from 1 kg on.
func (v Voice) About(g float64) string {
	switch {
	case v.Pounds():
		return v.Mass(g)
	case math.Abs(g) < 1000:
		return Digits(g, 0) + " g"
	}
	return Digits(g/1000, 1) + " kg"
}

// weighed is a mass in whole grams.
func (v Voice) Weighed(g float64) string {
	if v.Pounds() {
		return v.Grams(g)
	}
	return Digits(g, 0) + " g"
}

// kilos is a mass always in kg, in g.
func (v Voice) Kilos(g float64, decimals int) string {
	if v.Pounds() {
		return v.Mass(g)
	}
	return Digits(g/1000, decimals) + " kg"
}

// degrees is a temperature.
func (v Voice) Degrees(c float64, decimals int) string {
	if v.Fahrenheit() {
		return v.Temp(c)
	}
	return Digits(c, decimals) + " °C"
}

// volume is a volume of water.
func (v Voice) Volume(l float64, decimals int) string {
	if v.Gallons() {
		return v.Litres(l)
	}
	return Digits(l, decimals) + " L"
}

// height is a height above the sea, m.
func (v Voice) Height(m float64) string {
	if v.Fahrenheit() {
		return Number(m/0.3048, 0) + Narrow + "ft"
	}
	return Digits(m, 0) + " m"
}

// minutes is a length of time, min: in hours from two on.
func (v Voice) Minutes(m float64) string {
	switch {
	case math.IsInf(m, 0):
		return v.Say("warn.beyond_words")
	case m >= 120:
		return Digits(m/60, 1) + " h"
	}
	return Digits(m, 0) + " min"
}

// dayName is the day of the week.
func (v Voice) DayName(d models.Date) string { return v.Weekday(d.At(720, v.Location())) }

// shortDay is the day of the week in a few letters.
func (v Voice) ShortDay(d models.Date) string { return v.ShortWeekday(d.At(720, v.Location())) }

// listed joins words: "a, b and c".
func (v Voice) Listed(list []string) string {
	if n := len(list); n > 1 {
		return v.Say("said.and", "list", strings.Join(list[:n-1], v.Say("said.comma")), "last", list[n-1])
	}
	return strings.Join(list, "")
}

// chance is a chance in per cent: "38 %"; what 1,000 simulated days hardly show is "below 1 %".
func (v Voice) Chance(pct float64) string {
	if pct < 1 {
		return v.Say("said.hardly")
	}
	return Digits(pct, 0) + " %"
}
