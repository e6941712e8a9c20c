// Package say formats numbers and warnings as text for pages and print. planner/quantity formats quantities, times and dates.
package say

import (
	"math"

	"hotday/planner/say/quantity"
)

// thin is a narrow non-breaking space between a number and its unit.
const thin = "\u202f"

// Number formats x with digit grouping: "4 670", "12.5".
func Number(x float64, decimals int) string { return quantity.Number(x, decimals) }

// Pct formats a percentage; small but positive values never read 0 %, and values just below 100 never 100 %.
func Pct(p float64) string {
	switch {
	case p > 0 && p < 1:
		return "under 1" + thin + "%"
	case p > 99 && p < 100:
		return "over 99" + thin + "%"
	}
	return Number(p, 0) + thin + "%"
}

// Servings formats a number of servings without a unit, with tenths only below ten.
func Servings(n float64) string {
	if n < 9.95 && math.Abs(n-math.Round(n)) >= 0.05 {
		return Number(n, 1)
	}
	return Number(n, 0)
}

// Decimals is the number of decimals of a currency: 2 for EUR, 0 for JPY (ISO 4217).
func Decimals(currency string) int {
	switch currency {
	case "JPY", "KRW", "VND", "CLP", "ISK", "UGX", "XAF", "XOF", "PYG", "RWF":
		return 0
	case "BHD", "KWD", "OMR", "TND", "JOD", "IQD", "LYD":
		return 3
	}
	return 2
}

// Money formats an amount in minor units: "12.40 EUR".
func Money(minor float64, currency string) string {
	d := Decimals(currency)
	return Number(minor/math.Pow10(d), d) + thin + currency
}
