package say

import (
	"math"
	"time"

	"hotday/models"
	"hotday/planner/say/quantity"
	"hotday/planner/say/words"
)

// voice says the planner's sentences in the language of a site, with quantities and times in its way. In metric units it writes
// what has to be weighed out to the whole gram, and temperatures, litres and kg to a tenth.
type Voice struct {
	*words.Catalogue
	quantity.Writer
}

func For(s models.Site) Voice { return Voice{words.In(s.Language), quantity.For(s)} }

// grams is a mass to weigh.
func (v Voice) WeighedGrams(g float64) string {
	if v.Pounds() {
		return v.Grams(g)
	}
	return sheetGrams(g)
}

// signed is a difference of masses with its sign: "+600 g".
func (v Voice) Signed(g float64) string {
	if math.Round(g) > 0 {
		return "+" + v.WeighedGrams(g)
	}
	return v.WeighedGrams(g)
}

// kg is a mass to see coming.
func (v Voice) SheetMass(g float64) string {
	if v.Pounds() {
		return v.Mass(g)
	}
	return sheetKg(g)
}

func (v Voice) SheetLitres(l float64) string {
	if v.Gallons() {
		return v.Litres(l)
	}
	return sheetLitres(l)
}

func (v Voice) SheetTemp(c float64) string {
	if v.Fahrenheit() {
		return v.Temp(c)
	}
	return sheetTemp(c)
}

// moment is the time of day, with the weekday where it is another date than that of beside.
func (v Voice) Moment(t, beside time.Time) string {
	a, b := t.In(v.Location()), beside.In(v.Location())
	if a.YearDay() == b.YearDay() && a.Year() == b.Year() {
		return v.Clock(t)
	}
	return v.Say("date.at", "day", v.ShortWeekday(t), "clock", v.Clock(t))
}
