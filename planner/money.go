package planner

import (
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/currency"
)

// dearer says a difference of cost, minor units.
func (v voice) dearer(minor float64, code string) string {
	switch {
	case minor >= 0.5:
		return v.Say("plan.cost_more", "money", moneyWords(minor, code))
	case minor <= -0.5:
		return v.Say("plan.cost_less", "money", moneyWords(-minor, code))
	}
	return v.Say("plan.cost_same")
}

// moneyWords writes minor units in a currency: "12.50 EUR".
func moneyWords(minor float64, code string) string {
	digits := 2
	if unit, err := currency.ParseISO(code); err == nil {
		digits, _ = currency.Standard.Rounding(unit)
	}
	for range digits {
		minor /= 10
	}
	return Number(minor, digits) + narrow + code
}

func capital(s string) string {
	if s == "" {
		return s
	}
	first, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[n:]
}
