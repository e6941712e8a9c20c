package planner

import (
	"math"
	"strconv"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/quantity"
	"hotday/planner/words"
)

// What follows writes quantities inside sentences, in metric units with an ordinary space and the decimals that the sentence asks for.

// plainVoice is that of what belongs to no site: English, metric, 24 h.
func plainVoice() voice { return voice{words.In(words.English), quantity.Metric(time.UTC)} }

// digits is a bare number in a sentence.
func digits(x float64, decimals int) string { return strconv.FormatFloat(x, 'f', decimals, 64) }

// about is a mass as a person reads it: whole grams, tenths of a kg from 1 kg on.
func (v voice) about(g float64) string {
	switch {
	case v.Pounds():
		return v.Mass(g)
	case math.Abs(g) < 1000:
		return digits(g, 0) + " g"
	}
	return digits(g/1000, 1) + " kg"
}

// weighed is a mass in whole grams.
func (v voice) weighed(g float64) string {
	if v.Pounds() {
		return v.Grams(g)
	}
	return digits(g, 0) + " g"
}

// kilos is a mass always in kg, in g.
func (v voice) kilos(g float64, decimals int) string {
	if v.Pounds() {
		return v.Mass(g)
	}
	return digits(g/1000, decimals) + " kg"
}

// degrees is a temperature.
func (v voice) degrees(c float64, decimals int) string {
	if v.Fahrenheit() {
		return v.Temp(c)
	}
	return digits(c, decimals) + " °C"
}

// volume is a volume of water.
func (v voice) volume(l float64, decimals int) string {
	if v.Gallons() {
		return v.Litres(l)
	}
	return digits(l, decimals) + " L"
}

// height is a height above the sea, m.
func (v voice) height(m float64) string {
	if v.Fahrenheit() {
		return Number(m/0.3048, 0) + narrow + "ft"
	}
	return digits(m, 0) + " m"
}

// minutes is a length of time, min: in hours from two on.
func (v voice) minutes(m float64) string {
	switch {
	case math.IsInf(m, 0):
		return v.Say("warn.beyond_words")
	case m >= 120:
		return digits(m/60, 1) + " h"
	}
	return digits(m, 0) + " min"
}

// dayName is the day of the week.
func (v voice) dayName(d models.Date) string { return v.Weekday(d.At(720, v.Location())) }

// shortDay is the day of the week in a few letters.
func (v voice) shortDay(d models.Date) string { return v.ShortWeekday(d.At(720, v.Location())) }

// listed joins words: "a, b and c".
func (v voice) listed(list []string) string {
	if n := len(list); n > 1 {
		return v.Say("said.and", "list", strings.Join(list[:n-1], v.Say("said.comma")), "last", list[n-1])
	}
	return strings.Join(list, "")
}

// chance is a chance in per cent: "38 %"; what 1,000 simulated days hardly show is "below 1 %".
func (v voice) chance(pct float64) string {
	if pct < 1 {
		return v.Say("said.hardly")
	}
	return digits(pct, 0) + " %"
}
