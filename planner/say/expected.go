package say

import (
	"math"

	"golang.org/x/text/currency"
	"golang.org/x/text/language"
	"golang.org/x/text/message"

	"hotday/models"
)

// leastPoured is the least that is worth mentioning as poured away, g.
const leastPoured = 50

// Expected says what a plan is expected to sell, miss and pour away: "We expect to sell 1,020 of 1,059 drinks, miss 39 (€140), and
// pour away 14 kg (€31)." It is empty where no drink is expected and nothing is poured away.
func (v Voice) Expected(e *models.Expected, code string) string {
	demanded, missed := math.Round(e.Demanded), math.Round(e.Missed)
	poured := e.PouredAwayG >= leastPoured
	key := "money.all"
	switch {
	case demanded == 0 && !poured:
		return ""
	case missed > 0 && poured:
		key = "money.missed_poured"
	case missed > 0:
		key = "money.missed"
	case poured:
		key = "money.poured"
	}
	return v.Say(key, "sold", Number(demanded-missed, 0), "demanded", Number(demanded, 0), "missed", Number(missed, 0),
		"missed_cost", v.WholeMoney(e.Cost.MissedSales, code), "mass", v.GlanceMass(e.PouredAwayG), "poured_cost", v.WholeMoney(e.Cost.PouredAway, code))
}

// WholeMoney formats an amount in minor units of a currency to the whole unit, with its symbol: "€140", in German "140 €".
func (w Writer) WholeMoney(minor float64, code string) string {
	number := Number(math.Round(minor/math.Pow10(MoneyDecimals(code))), 0)
	if unit, err := currency.ParseISO(code); err == nil {
		if symbol := message.NewPrinter(language.English).Sprint(currency.NarrowSymbol(unit)); symbol != code {
			return w.words.Say("money.symbol", "symbol", symbol, "n", number)
		}
	}
	return number + NoBreak + code
}

// LeastMoney is the least amount, minor units, that WholeMoney does not round to nothing.
func LeastMoney(code string) float64 { return math.Pow10(MoneyDecimals(code)) / 2 }
