package planner

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/currency"

	"hotday/models"
)

// OtherwiseWords says what a batch would cost planned another way, a sentence: "Half an hour earlier would cost 0.40 EUR more, half
// an hour later 2.10 EUR more, leaving it out 31.00 EUR more." It is empty where the plan did not ask.
func OtherwiseWords(list []models.Otherwise, site models.Site) string {
	v := voiceOf(site)
	var costs, cannot []string
	for _, o := range list {
		change := v.Say("plan.otherwise." + o.Change)
		if o.Not != "" {
			cannot = append(cannot, v.Say("plan.otherwise_not", "change", change, "why", o.Not))
			continue
		}
		key := "plan.otherwise_also"
		if len(costs) == 0 {
			key = "plan.otherwise_costs"
		}
		costs = append(costs, v.Say(key, "change", change, "cost", v.dearer(o.Cost, site.Currency)))
	}
	var out []string
	if len(costs) > 0 {
		out = append(out, capital(strings.Join(costs, v.Say("said.comma")))+".")
	}
	if len(cannot) > 0 {
		out = append(out, capital(strings.Join(cannot, v.Say("said.semicolon")))+".")
	}
	return strings.Join(out, " ")
}

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
