package say

import (
	"math"

	"golang.org/x/text/currency"
)

// MoneyDecimals is the number of decimals of a currency by its ISO 4217 code: 2 for EUR, 0 for JPY, 2 for unknown codes.
func MoneyDecimals(code string) int {
	unit, err := currency.ParseISO(code)
	if err != nil {
		return 2
	}
	decimals, _ := currency.Standard.Rounding(unit)
	return decimals
}

// Money formats an amount in minor units of a currency: "12.50 EUR".
func (w Writer) Money(minor float64, code string) string {
	decimals := MoneyDecimals(code)
	return w.Number(minor/math.Pow10(decimals), decimals) + NoBreak + code
}

// CostDifference says by how much one plan costs more or less than another, minor units: "12.50 EUR more", "the same".
func (v Voice) CostDifference(minor float64, code string) string {
	switch {
	case minor >= 0.5:
		return v.Say("plan.cost_more", "money", v.Money(minor, code))
	case minor <= -0.5:
		return v.Say("plan.cost_less", "money", v.Money(-minor, code))
	}
	return v.Say("plan.cost_same")
}
