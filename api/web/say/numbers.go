// Package say puts numbers, times and warnings into the words that people read on screens and paper.
package say

import (
	"math"
	"strconv"
	"time"

	"hotday/planner"
)

// thin separates thousands and a number from its unit without letting the line break there.
const thin = "\u202f"

// Number writes x as the sheets do: "4 670", "12.5".
func Number(x float64, decimals int) string { return planner.Number(x, decimals) }

// Grams writes a mass to be weighed: whole grams from 100 g on, a tenth below 10 g where it is not whole.
func Grams(g float64) string {
	if math.Abs(g) < 10 && math.Abs(g-math.Round(g)) >= 0.05 {
		return Number(g, 1) + thin + "g"
	}
	return Number(g, 0) + thin + "g"
}

// Mass writes a mass to be understood at a glance: kg with one decimal from 1 000 g on, grams below.
func Mass(g float64) string {
	switch a := math.Abs(g); {
	case a >= 99500:
		return Number(g/1000, 0) + thin + "kg"
	case a >= 999.5:
		return Number(g/1000, 1) + thin + "kg"
	case a >= 100:
		return Number(math.Round(g/10)*10, 0) + thin + "g"
	}
	return Grams(g)
}

// Litres writes a volume of water.
func Litres(l float64) string {
	if math.Abs(l) < 9.95 {
		return Number(l, 1) + thin + "L"
	}
	return Number(l, 0) + thin + "L"
}

// Temp writes a temperature, to half a degree where that is not whole and it is below 20 °C.
func Temp(c float64) string {
	if math.Abs(c) < 20 && math.Abs(c-math.Round(c)) >= 0.25 {
		return Number(c, 1) + thin + "°C"
	}
	return Number(c, 0) + thin + "°C"
}

// Pct writes a share of a hundred; what is rare but possible is never called 0 %.
func Pct(p float64) string {
	switch {
	case p > 0 && p < 1:
		return "under 1" + thin + "%"
	case p > 99 && p < 100:
		return "over 99" + thin + "%"
	}
	return Number(p, 0) + thin + "%"
}

// Servings writes how many, without a unit; a tenth only where it is under ten and not whole.
func Servings(n float64) string {
	if n < 9.95 && math.Abs(n-math.Round(n)) >= 0.05 {
		return Number(n, 1)
	}
	return Number(n, 0)
}

// Money writes an amount of minor units: "12.40 EUR". Currencies without minor units are written whole.
func Money(minor float64, currency string) string {
	switch currency {
	case "JPY", "KRW", "VND", "CLP", "ISK", "UGX", "XAF", "XOF", "PYG", "RWF":
		return Number(minor, 0) + thin + currency
	case "BHD", "KWD", "OMR", "TND", "JOD", "IQD", "LYD":
		return Number(minor/1000, 3) + thin + currency
	}
	return Number(minor/100, 2) + thin + currency
}

// Clock writes a time of day: "14:45".
func Clock(t time.Time, loc *time.Location) string { return t.In(loc).Format("15:04") }

// Day writes a day in words: "Saturday 11 July".
func Day(t time.Time, loc *time.Location) string { return t.In(loc).Format("Monday 2 January") }

// At writes a moment in words: "Saturday 14:45".
func At(t time.Time, loc *time.Location) string { return t.In(loc).Format("Monday 15:04") }

// Near writes a moment as seen from now: the time alone on the same date, with the weekday within six days, else with the date.
func Near(t, now time.Time, loc *time.Location) string {
	t, now = t.In(loc), now.In(loc)
	switch days := math.Abs(t.Sub(now).Hours() / 24); {
	case t.Format("2006-01-02") == now.Format("2006-01-02"):
		return t.Format("15:04")
	case days < 6:
		return t.Format("Monday 15:04")
	}
	return t.Format("Monday 2 January 15:04")
}

// Span writes a length of time: "12 min", "3 h 20 min", "2 days".
func Span(d time.Duration) string {
	m := int(d.Round(time.Minute) / time.Minute)
	switch {
	case m < 1:
		return "under a minute"
	case m < 60:
		return strconv.Itoa(m) + thin + "min"
	case m < 48*60 && m%60 == 0:
		return strconv.Itoa(m/60) + thin + "h"
	case m < 48*60:
		return strconv.Itoa(m/60) + thin + "h " + strconv.Itoa(m%60) + thin + "min"
	}
	return strconv.Itoa(m/1440) + " days"
}
