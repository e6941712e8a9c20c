package say

import (
	"math"
	"strconv"
	"strings"

	"hotday/planner/say/words"
)

// Number formats x with its digits in groups of three, a true minus and a decimal point: "4 670", "−3.5". Zero has no sign. What people
// of another language read with decimals is formatted by Writer.Number.
func Number(x float64, decimals int) string { return number(x, decimals, point) }

// point is the decimal sign of English.
const point = "."

// Number formats x like the function Number, with the decimal sign of the language: "4 670", "−3,5".
func (w Writer) Number(x float64, decimals int) string { return number(x, decimals, w.decimalSign()) }

// decimalSign is what parts a whole number from its decimals.
func (w Writer) decimalSign() string {
	if w.words == nil || w.words.Language() == words.Keys {
		return point
	}
	return w.words.Say("number.decimal")
}

// Typed writes a number as a person would type it into a field, without groups: "1234,5" where the language has a decimal comma.
func (w Writer) Typed(s string) string { return strings.Replace(s, point, w.decimalSign(), 1) }

func number(x float64, decimals int, sign string) string {
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	whole, part, _ := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + NoBreak + whole[i:]
	}
	if part != "" {
		whole += sign + part
	}
	if x < 0 && strings.Trim(s, "0.") != "" {
		return "−" + whole
	}
	return whole
}

// Percent formats a percentage: "38%".
func (w Writer) Percent(pct float64, decimals int) string {
	return w.words.Say("number.percent", "n", w.Number(pct, decimals))
}

// odds are the chances that people say, of 100, in order.
var odds = []struct{ n, of int }{{1, 50}, {1, 20}, {1, 10}, {1, 5}, {1, 4}, {1, 3}, {1, 2}, {2, 3}, {3, 4}, {4, 5}, {9, 10}, {19, 20}}

// Chance words a probability, %, by the nearest of the odds that people say: "1 in 3", "almost none", "almost certain". 1,000 simulated
// days cannot tell less than 1% from never.
func (w Writer) Chance(pct float64) string {
	switch {
	case pct < 1:
		return w.words.Say("number.no_chance")
	case pct >= 97.5:
		return w.words.Say("number.sure")
	}
	best := odds[0]
	for _, o := range odds {
		if off := math.Abs(pct - 100*float64(o.n)/float64(o.of)); off < math.Abs(pct-100*float64(best.n)/float64(best.of)) {
			best = o
		}
	}
	return w.words.Say("number.odds", "n", best.n, "of", best.of)
}

// AboutChance is Chance for the beginning of a sentence's statement: "about 1 in 3", "almost certain".
func (w Writer) AboutChance(pct float64) string {
	if pct < 1 || pct >= 97.5 {
		return w.Chance(pct)
	}
	return w.words.Say("number.about", "chance", w.Chance(pct))
}

// Servings formats a number of servings without a unit, with a tenth only below ten.
func (w Writer) Servings(n float64) string {
	if n < 9.95 && math.Abs(n-math.Round(n)) >= 0.05 {
		return w.Number(n, 1)
	}
	return Number(n, 0)
}
