// Package say puts numbers and warnings into the words that people read on screens and paper. What has a unit, a clock or a date
// is written by planner/quantity in the way of the site.
package say

import (
	"math"

	"hotday/planner/say/quantity"
)

// thin separates a number from its unit without letting the line break there.
const thin = "\u202f"

// Number writes x as the sheets do: "4 670", "12.5".
func Number(x float64, decimals int) string { return quantity.Number(x, decimals) }

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

// Decimals is how many digits of a currency are minor units: 2 of EUR, 0 of JPY (ISO 4217).
func Decimals(currency string) int {
	switch currency {
	case "JPY", "KRW", "VND", "CLP", "ISK", "UGX", "XAF", "XOF", "PYG", "RWF":
		return 0
	case "BHD", "KWD", "OMR", "TND", "JOD", "IQD", "LYD":
		return 3
	}
	return 2
}

// Money writes an amount of minor units: "12.40 EUR". Currencies without minor units are written whole.
func Money(minor float64, currency string) string {
	d := Decimals(currency)
	return Number(minor/math.Pow10(d), d) + thin + currency
}
