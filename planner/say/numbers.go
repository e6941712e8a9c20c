package say

import (
	"math"
	"strconv"
	"strings"
)

// Number formats x with its digits in groups of three and a true minus: "4 670", "−3.5". Zero has no sign.
func Number(x float64, decimals int) string {
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	whole, part, _ := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + NoBreak + whole[i:]
	}
	if part != "" {
		whole += "." + part
	}
	if x < 0 && strings.Trim(s, "0.") != "" {
		return "−" + whole
	}
	return whole
}

// Percent formats a percentage: "38%".
func (w Writer) Percent(pct float64, decimals int) string {
	return w.words.Say("number.percent", "n", Number(pct, decimals))
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

// DaysInTen words a service level, %: "9 days in 10".
func (w Writer) DaysInTen(pct float64) string {
	n, of := int(math.Round(pct/10)), 10
	if pct > 92.5 {
		n, of = 19, 20
	}
	return w.words.Say("number.days_in", "n", max(n, 1), "of", of)
}

// Servings formats a number of servings without a unit, with a tenth only below ten.
func Servings(n float64) string {
	if n < 9.95 && math.Abs(n-math.Round(n)) >= 0.05 {
		return Number(n, 1)
	}
	return Number(n, 0)
}
