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

// Chance formats a probability, %. 1,000 simulated days cannot tell less than 1% from never, nor more than 99% from always.
func (w Writer) Chance(pct float64) string {
	switch {
	case pct < 1:
		return w.words.Say("number.under", "n", w.Percent(1, 0))
	case pct > 99 && pct < 100:
		return w.words.Say("number.over", "n", w.Percent(99, 0))
	}
	return w.Percent(pct, 0)
}

// Servings formats a number of servings without a unit, with a tenth only below ten.
func Servings(n float64) string {
	if n < 9.95 && math.Abs(n-math.Round(n)) >= 0.05 {
		return Number(n, 1)
	}
	return Number(n, 0)
}
