package say

import (
	"math"

	"hotday/planner/say/quantity"
)

// narrow parts thousands, and a number from its unit, without a line break there.
const Narrow = "\u202f"

// Number writes x with a number of decimals and thousands apart: "4 670", "12.5". A zero never has a minus.
func Number(x float64, decimals int) string { return quantity.Number(x, decimals) }

// sheetGrams is a mass to weigh, in whole grams; sheetKg one to see coming, in tenths of a kg.
func sheetGrams(g float64) string { return Number(g, 0) + Narrow + "g" }

func sheetKg(g float64) string {
	if math.Abs(g) < 950 {
		return sheetGrams(g)
	}
	return Number(g/1000, 1) + Narrow + "kg"
}

func sheetLitres(l float64) string { return Number(l, 1) + Narrow + "L" }

func sheetTemp(c float64) string { return Number(c, 1) + Narrow + "°C" }

// sheetSalt is a mass of salt, to a hundredth of a gram.
func SheetSalt(g float64) string { return Number(g, 2) + Narrow + "g" }

// sheetHours is a length of time in hours, with a half where there is one.
func SheetHours(h float64) string {
	if math.Abs(h-math.Round(h)) < 0.05 {
		return Number(h, 0) + Narrow + "h"
	}
	return Number(h, 1) + Narrow + "h"
}
