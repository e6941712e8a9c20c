package say

import (
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/quantity"
)

// Short writes a warning in a few words, without its time and cause: "about 6 kg of ice short, chance 38 %".
func Short(w models.Warning, q quantity.Writer) string {
	s := what(w, q)
	if w.ChancePct > 0 && w.ChancePct < 100 {
		s += ", chance " + Pct(w.ChancePct)
	}
	return s
}

// Sentence writes a warning with its time: "Saturday 14:45: about 6 kg of ice short, chance 38 %".
func Sentence(w models.Warning, q quantity.Writer) string {
	if w.At.IsZero() {
		return upper(Short(w, q))
	}
	return q.At(w.At) + ": " + Short(w, q)
}

// Subject names a warning by its time and what is short, without how much: "Sunday 16:00, drink ice short".
func Subject(w models.Warning, q quantity.Writer) string {
	w.Amount = 0
	s := strings.TrimPrefix(what(w, q), "of ")
	if w.At.IsZero() {
		return s
	}
	return q.At(w.At) + ", " + s
}

// Grade says how soon to act, in words.
func Grade(grade string) string {
	switch grade {
	case models.GradeActNow:
		return "Act now"
	case models.GradeActToday:
		return "Act today"
	}
	return "Good to know"
}

func what(w models.Warning, q quantity.Writer) string {
	about := ""
	if w.Amount > 0 {
		about = "about " + Amount(w.Amount, w.Unit, q) + " "
	}
	switch w.Kind {
	case models.WarnIceShort:
		if slices.ContainsFunc(w.Fields, func(f string) bool { return strings.HasPrefix(f, "ice.plain") }) {
			return about + "of bath ice to bring in"
		}
		return about + "of drink ice short"
	case models.WarnBeverageShort:
		return about + "of cold coffee short"
	case models.WarnBeansShort:
		return about + "of beans short"
	case models.WarnWaterShort:
		return about + "of treated water short"
	case models.WarnColdStoreFull:
		return "the cold store is full" + over(about)
	case models.WarnBrewerOverrun:
		return "a brewer cannot hold the batch" + over(about)
	case models.WarnTargetTemp:
		return "a batch will not get cold enough"
	case models.WarnHoldTooLong:
		return "a batch would be kept too long"
	case models.WarnStrengthOff:
		if w.Amount > 0 {
			return "strength off by " + Number(w.Amount, 2) + " points"
		}
		return "strength is off"
	case models.WarnSalesSilent:
		return "no sales counts come in"
	case models.WarnStockCountOld:
		return "the stock count is old"
	case models.WarnForecastOld:
		return "the weather forecast is old or has gaps"
	case models.WarnPlainIce:
		return "plain ice must not stand in for drink ice"
	case models.WarnSteepWarm:
		return "steeping is too warm"
	case models.WarnCoolingSlow:
		return "cooling takes too long"
	case models.WarnLimitLax:
		return "a limit is laxer than the safe default"
	case models.WarnWaterUnsuitable:
		return "the water does not suit"
	case models.WarnYieldDoubtful:
		return "a yield is doubtful"
	}
	return about + strings.ReplaceAll(w.Kind, "_", " ")
}

func over(about string) string {
	if about == "" {
		return ""
	}
	return ", " + strings.TrimSpace(about) + " too much"
}

// Amount writes a quantity of a warning in its unit.
func Amount(x float64, unit string, q quantity.Writer) string {
	switch unit {
	case "g":
		return q.Mass(x)
	case "kg":
		return q.Mass(1000 * x)
	case "l", "L":
		return q.Litres(x)
	case "c", "°C":
		return q.Temp(x)
	case "min":
		return q.Span(time.Duration(x * float64(time.Minute)))
	case "h":
		return q.Span(time.Duration(x * float64(time.Hour)))
	case "servings":
		return Servings(x) + " servings"
	}
	if unit == "" {
		return Number(x, 1)
	}
	return Number(x, 1) + thin + unit
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
