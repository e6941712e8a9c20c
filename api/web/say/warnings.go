package say

import (
	"slices"
	"strings"
	"time"

	"hotday/api/web/texts"
	"hotday/models"
	"hotday/planner/say/quantity"
)

// Short describes a warning without its time and cause: "about 6 kg of ice short, chance 38 %".
func Short(w models.Warning, q quantity.Writer) string {
	s := describe(w, q)
	if w.ChancePct > 0 && w.ChancePct < 100 {
		s = texts.For(q.SiteLanguage()).Say("warning.chance", "what", s, "chance", Pct(w.ChancePct))
	}
	return s
}

// Sentence describes a warning with its time: "Saturday 14:45: about 6 kg of ice short, chance 38 %".
func Sentence(w models.Warning, q quantity.Writer) string {
	if w.At.IsZero() {
		return capitalise(Short(w, q))
	}
	return q.At(w.At) + ": " + Short(w, q)
}

// Subject names a warning without its amount: "Sunday 16:00, drink ice short".
func Subject(w models.Warning, q quantity.Writer) string {
	w.Amount = 0
	s := describe(w, q)
	if w.At.IsZero() {
		return s
	}
	return q.At(w.At) + ", " + s
}

// Grade says when to act.
func Grade(grade string, q quantity.Writer) string {
	if grade != models.GradeActNow && grade != models.GradeActToday {
		grade = models.GradeNote
	}
	return texts.For(q.SiteLanguage()).Say("warning.grade." + grade)
}

// withAmount are the kinds whose sentence has an amount.
var withAmount = []string{models.WarnIceShort, models.WarnBeverageShort, models.WarnBeansShort, models.WarnWaterShort, models.WarnColdStoreFull,
	models.WarnBrewerOverrun, models.WarnStrengthOff}

func describe(w models.Warning, q quantity.Writer) string {
	c := texts.For(q.SiteLanguage())
	key := "warning." + w.Kind
	if w.Kind == models.WarnIceShort && slices.ContainsFunc(w.Fields, func(f string) bool { return strings.HasPrefix(f, "ice.plain") }) {
		key = "warning.bath_ice"
	}
	amount := Amount(w.Amount, w.Unit, q)
	if w.Kind == models.WarnStrengthOff {
		amount = Number(w.Amount, 2)
	}
	if w.Amount > 0 && slices.Contains(withAmount, w.Kind) {
		return c.Say(key+".amount", "amount", amount)
	}
	text := c.Say(key)
	if text != key {
		return text
	}
	text = strings.ReplaceAll(w.Kind, "_", " ") // a kind without a text
	if w.Amount > 0 {
		text = c.Say("warning.about", "amount", amount) + " " + text
	}
	return text
}

// Amount formats an amount of a warning, given in unit, in the site's units.
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
		return texts.For(q.SiteLanguage()).Say("warning.servings", "n", Servings(x))
	}
	if unit == "" {
		return Number(x, 1)
	}
	return Number(x, 1) + thin + unit
}

func capitalise(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
