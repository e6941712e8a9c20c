package planner

import (
	"strings"

	"golang.org/x/text/currency"

	"hotday/models"
)

// OtherwiseWords says what a batch would cost planned another way, a sentence: "Half an hour earlier would cost 0.40 EUR more, half
// an hour later 2.10 EUR more, leaving it out 31.00 EUR more." It is empty where the plan did not ask.
func OtherwiseWords(list []models.Otherwise, currencyCode string) string {
	names := map[string]string{"earlier": "half an hour earlier", "later": "half an hour later", "left_out": "leaving it out"}
	var costs, cannot []string
	for _, o := range list {
		switch {
		case o.Not != "":
			cannot = append(cannot, names[o.Change]+" cannot be: "+o.Not)
		default:
			would := ""
			if len(costs) == 0 {
				would = "would cost "
			}
			costs = append(costs, names[o.Change]+" "+would+dearer(o.Cost, currencyCode))
		}
	}
	var out []string
	if len(costs) > 0 {
		out = append(out, capital(strings.Join(costs, ", "))+".")
	}
	if len(cannot) > 0 {
		out = append(out, capital(strings.Join(cannot, "; "))+".")
	}
	return strings.Join(out, " ")
}

// dearer says a difference of cost, minor units.
func dearer(minor float64, code string) string {
	switch {
	case minor >= 0.5:
		return moneyWords(minor, code) + " more"
	case minor <= -0.5:
		return moneyWords(-minor, code) + " less"
	}
	return "the same"
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
	return strings.ToUpper(s[:1]) + s[1:]
}
