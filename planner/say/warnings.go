package say

import (
	"slices"
	"strings"

	"hotday/models"
)

// WarningShort describes a warning without its time and cause: "about 6.0 kg of drink ice short, chance 1 in 3".
func (w Writer) WarningShort(x models.Warning) string {
	text := w.warned(x)
	if x.ChancePct > 0 && x.ChancePct < 100 {
		text = w.words.Say("warning.chance", "what", text, "chance", w.Chance(x.ChancePct))
	}
	return text
}

// WarningSentence describes a warning with its time and without its cause: "Saturday 14:45: about 6.0 kg of drink ice short, chance 38%".
func (w Writer) WarningSentence(x models.Warning) string {
	if x.At.IsZero() {
		return Capital(w.WarningShort(x))
	}
	return w.words.Say("warning.at", "at", w.At(x.At), "what", w.WarningShort(x))
}

// WarningSubject names a warning by its time and what is wrong, without an amount: "Sunday 16:00, drink ice short".
func (w Writer) WarningSubject(x models.Warning) string {
	x.Amount = 0
	if x.At.IsZero() {
		return w.warned(x)
	}
	return w.words.Say("warning.subject", "at", w.At(x.At), "what", w.warned(x))
}

// WarningGrade says when to act on a warning of a grade.
func (w Writer) WarningGrade(grade string) string {
	if grade != models.GradeActNow && grade != models.GradeActToday {
		grade = models.GradeNote
	}
	return w.words.Say("warning.grade." + grade)
}

// WarningAmount formats an amount of a warning, given in the warning's unit, in the units of the site.
func (w Writer) WarningAmount(x float64, unit string) string {
	switch unit {
	case "g":
		return w.GlanceMass(x)
	case "kg":
		return w.GlanceMass(1000 * x)
	case "ml", "piece":
		return w.SupplyAmount(x, unit)
	case "L":
		return w.Volume(x)
	case "°C":
		return w.TempDifference(x) // how far something is off
	case "min":
		return w.Minutes(x)
	case "h":
		return w.Minutes(60 * x)
	case "servings":
		return w.words.Say("warning.servings", "n", w.Servings(x))
	case "":
		return w.Number(x, 1)
	}
	return w.Number(x, 1) + NoBreak + unit
}

// amountKeys are the texts that add the amount, by the kinds that have one.
var amountKeys = map[string]string{models.WarnIceShort: "warning.short", models.WarnBeverageShort: "warning.short", models.WarnBeansShort: "warning.short",
	models.WarnWaterShort: "warning.short", models.WarnSuppliesShort: "warning.short", models.WarnColdStoreFull: "warning.too_much",
	models.WarnBrewerOverrun: "warning.too_much", models.WarnStrengthOff: "warning.off_by"}

// warned says what is wrong, with its amount where there is one.
func (w Writer) warned(x models.Warning) string {
	key := "warning." + x.Kind
	if x.OfBathIce() {
		key = "warning.bath_ice"
	}
	amount := w.WarningAmount(x.Amount, x.Unit)
	if x.Kind == models.WarnStrengthOff {
		amount = w.Number(x.Amount, 2)
	}
	if add, ok := amountKeys[x.Kind]; ok && x.Amount > 0 {
		return w.words.Say(add, "what", w.words.Say(key), "amount", amount)
	}
	if w.words.Has(key) {
		return w.words.Say(key)
	}
	text := strings.ReplaceAll(x.Kind, "_", " ") // a kind that this version has no text for
	if x.Amount > 0 {
		text = w.words.Say("warning.about", "amount", amount) + " " + text
	}
	return text
}

// CauseSaysWhen reports whether the cause of a warning of a kind begins with its time and says how much, so that it stands alone.
func CauseSaysWhen(kind string) bool {
	return slices.Contains([]string{models.WarnIceShort, models.WarnBeverageShort, models.WarnPlainIce, models.WarnBeansShort, models.WarnWaterShort,
		models.WarnSuppliesShort}, kind)
}

// CauseSaysChance reports whether the cause of a warning of a kind says how likely it is.
func CauseSaysChance(kind string) bool {
	return kind == models.WarnIceShort || kind == models.WarnBeverageShort
}
