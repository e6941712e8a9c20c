// Package quantity writes masses, volumes, temperatures and times as a site shows them, and reads back what a person typed.
// Everything stored and computed stays in grams, litres, °C and UTC; only what a person sees or types passes through here.
package quantity

import (
	"math"
	"strconv"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say/words"
)

// thin separates thousands and a number from its unit without letting the line break there.
const thin = "\u202f"

// Exact by definition: the international pound, the US fluid ounce and gallon.
const (
	gPerOz   = 28.349523125
	gPerLb   = 453.59237
	lPerFlOz = 0.0295735295625
	lPerGal  = 3.785411784
)

// Writer writes in the units, the clock, the order of dates, the zone and the language of one site.
type Writer struct {
	units models.Units
	loc   *time.Location
	words *words.Catalogue
	lang  string
}

// For returns the writer of a site.
func For(site models.Site) Writer {
	return Writer{units: site.Shown(), loc: site.Location(), words: words.In(site.Language), lang: site.Language}
}

// Metric returns a writer in g, °C, litres and a 24 h clock, for what belongs to no site.
func Metric(loc *time.Location) Writer {
	return Writer{units: models.Site{}.Shown(), loc: loc, words: words.In(words.English)}
}

// SiteLanguage is that of the site, as it was set up.
func (w Writer) SiteLanguage() string { return w.lang }

// Location is the site's time zone.
func (w Writer) Location() *time.Location { return w.loc }

// Pounds reports whether masses are shown in ounces and pounds; Fahrenheit and Gallons likewise.
func (w Writer) Pounds() bool     { return w.units.Mass == models.OuncesPounds }
func (w Writer) Fahrenheit() bool { return w.units.Temperature == models.Fahrenheit }
func (w Writer) Gallons() bool    { return w.units.Volume == models.FluidOuncesGallons }

// Grams writes a mass to be weighed: whole grams, a tenth below 10 g where it is not whole; or pounds and tenths of an ounce,
// hundredths below a pound.
func (w Writer) Grams(g float64) string {
	if w.Pounds() {
		return weighed(g)
	}
	if math.Abs(g) < 10 && math.Abs(g-math.Round(g)) >= 0.05 {
		return Number(g, 1) + thin + "g"
	}
	return Number(g, 0) + thin + "g"
}

func weighed(g float64) string {
	oz := math.Abs(g) / gPerOz
	if oz < 15.995 {
		return Number(g/gPerOz, 2) + thin + "oz"
	}
	sign := ""
	if g < 0 {
		sign = "−"
	}
	tenths := math.Round(oz * 10)
	lb := math.Floor(tenths / 160)
	out := sign + Number(lb, 0) + thin + "lb"
	if rest := tenths - 160*lb; rest > 0 {
		out += " " + Number(rest/10, 1) + thin + "oz"
	}
	return out
}

// Mass writes a mass to be understood at a glance: kg with one decimal from 1 000 g on, grams below; or pounds and ounces so.
func (w Writer) Mass(g float64) string {
	if w.Pounds() {
		switch lb := math.Abs(g) / gPerLb; {
		case lb >= 99.5:
			return Number(g/gPerLb, 0) + thin + "lb"
		case lb >= 0.997:
			return Number(g/gPerLb, 1) + thin + "lb"
		case lb*16 >= 9.95:
			return Number(g/gPerOz, 0) + thin + "oz"
		}
		return Number(g/gPerOz, 1) + thin + "oz"
	}
	switch a := math.Abs(g); {
	case a >= 99500:
		return Number(g/1000, 0) + thin + "kg"
	case a >= 999.5:
		return Number(g/1000, 1) + thin + "kg"
	case a >= 100:
		return Number(math.Round(g/10)*10, 0) + thin + "g"
	}
	return w.Grams(g)
}

// Litres writes a volume of water.
func (w Writer) Litres(l float64) string {
	if w.Gallons() {
		switch gal := math.Abs(l) / lPerGal; {
		case gal >= 99.5:
			return Number(l/lPerGal, 0) + thin + "gal"
		case gal >= 0.995:
			return Number(l/lPerGal, 1) + thin + "gal"
		}
		return Number(l/lPerFlOz, 0) + thin + "fl" + thin + "oz"
	}
	if math.Abs(l) < 9.95 {
		return Number(l, 1) + thin + "L"
	}
	return Number(l, 0) + thin + "L"
}

// Temp writes a temperature: °C to half a degree where that is not whole and it is below 20 °C, or whole °F.
func (w Writer) Temp(c float64) string {
	if w.Fahrenheit() {
		return Number(c*9/5+32, 0) + thin + "°F"
	}
	if math.Abs(c) < 20 && math.Abs(c-math.Round(c)) >= 0.25 {
		return Number(c, 1) + thin + "°C"
	}
	return Number(c, 0) + thin + "°C"
}

// Degrees writes a difference of temperatures, in K.
func (w Writer) Degrees(k float64) string {
	if w.Fahrenheit() {
		return Number(k*9/5, 0) + thin + "°F"
	}
	return Number(k, 1) + thin + "°C"
}

// Number writes x with thin spaces between thousands and a true minus: "4 670", "−3.5". Zero has no sign.
func Number(x float64, decimals int) string {
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	whole, part, _ := strings.Cut(s, ".")
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + thin + whole[i:]
	}
	if part != "" {
		whole += "." + part
	}
	if x < 0 && strings.Trim(s, "0.") != "" {
		return "−" + whole
	}
	return whole
}
