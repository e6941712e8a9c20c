package say

import (
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/currency"
)

// dearer says a difference of cost, minor units.
func (v Voice) CostDifference(minor float64, code string) string {
	switch {
	case minor >= 0.5:
		return v.Say("plan.cost_more", "money", Money(minor, code))
	case minor <= -0.5:
		return v.Say("plan.cost_less", "money", Money(-minor, code))
	}
	return v.Say("plan.cost_same")
}

// moneyWords writes minor units in a currency: "12.50 EUR".
func Money(minor float64, code string) string {
	digits := 2
	if unit, err := currency.ParseISO(code); err == nil {
		digits, _ = currency.Standard.Rounding(unit)
	}
	for range digits {
		minor /= 10
	}
	return Number(minor, digits) + Narrow + code
}

func Capital(s string) string {
	if s == "" {
		return s
	}
	first, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[n:]
}
