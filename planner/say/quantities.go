package say

import "math"

// The international pound, the US fluid ounce and the US gallon: exact by definition.
const (
	gPerOz   = 28.349523125
	gPerLb   = 453.59237
	lPerFlOz = 0.0295735295625
	lPerGal  = 3.785411784
)

// ExactMass formats a mass that somebody weighs out, g. Planned amounts are in steps of a scale and are shown exactly, to a tenth of a
// gram or, in pounds and ounces, to a hundredth of an ounce; other masses in whole grams, with a tenth below 10 g, or in pounds and
// tenths of an ounce, with hundredths below a pound.
func (w Writer) ExactMass(g float64) string {
	if w.Pounds() {
		return w.poundsOunces(g)
	}
	if onStep(g * 10) {
		return w.decimals(g, 1) + NoBreak + "g"
	}
	if math.Abs(g) < 10 && math.Abs(g-math.Round(g)) >= 0.05 {
		return w.Number(g, 1) + NoBreak + "g"
	}
	return w.Number(g, 0) + NoBreak + "g"
}

// onStep reports whether x is a whole number of steps but for rounding errors.
func onStep(x float64) bool { return math.Abs(x-math.Round(x)) < 1e-5*max(1, math.Abs(x)/1e4) }

// decimals formats x with the fewest decimals, at most n, that show it to n decimals.
func (w Writer) decimals(x float64, n int) string {
	for d := range n {
		if scale := math.Pow10(d); math.Abs(x*scale-math.Round(x*scale)) < 1e-5 {
			return w.Number(x, d)
		}
	}
	return w.Number(x, n)
}

func (w Writer) poundsOunces(g float64) string {
	oz := math.Abs(g) / gPerOz
	if oz < 15.995 {
		return w.Number(g/gPerOz, 2) + NoBreak + "oz"
	}
	sign := ""
	if g < 0 {
		sign = "−"
	}
	parts := 10.0 // of an ounce
	if onStep(oz * 100) {
		parts = 100
	}
	n := math.Round(oz * parts)
	lb := math.Floor(n / (16 * parts))
	out := sign + w.Number(lb, 0) + NoBreak + "lb"
	if rest := n - 16*parts*lb; rest > 0 {
		out += " " + w.Number(rest/parts, ounceDecimals(rest/parts)) + NoBreak + "oz"
	}
	return out
}

// ounceDecimals is 1, or 2 for an amount that is not a whole number of tenths.
func ounceDecimals(oz float64) int {
	if onStep(oz * 10) {
		return 1
	}
	return 2
}

// GlanceMass formats a mass that is read at a glance, g: grams below 1 kg, then kg with one decimal, whole from 100 kg on; or ounces
// and pounds likewise.
func (w Writer) GlanceMass(g float64) string {
	if w.Pounds() {
		switch lb := math.Abs(g) / gPerLb; {
		case lb >= 99.95:
			return w.Number(g/gPerLb, 0) + NoBreak + "lb"
		case lb >= 0.997:
			return w.Number(g/gPerLb, 1) + NoBreak + "lb"
		case lb*16 >= 9.95:
			return w.Number(g/gPerOz, 0) + NoBreak + "oz"
		}
		return w.Number(g/gPerOz, 1) + NoBreak + "oz"
	}
	switch a := math.Abs(g); {
	case a >= 99950:
		return w.Number(g/1000, 0) + NoBreak + "kg"
	case a >= 999.5:
		return w.Number(g/1000, 1) + NoBreak + "kg"
	}
	return w.ExactMass(g)
}

// MassChange formats a difference of masses that somebody weighs out, g: "+600 g".
func (w Writer) MassChange(g float64) string {
	if math.Round(g) > 0 {
		return "+" + w.ExactMass(g)
	}
	return w.ExactMass(g)
}

// SaltMass formats a mass of salt to a tenth of a gram, as doses are computed: salts are weighed in grams whatever the site's units.
func (w Writer) SaltMass(g float64) string { return w.Number(g, 1) + NoBreak + "g" }

// Volume formats a volume of water, L: to a tenth below 100 L where it is not whole; or gallons, fluid ounces below one.
func (w Writer) Volume(l float64) string {
	if w.Gallons() {
		switch gal := math.Abs(l) / lPerGal; {
		case gal >= 99.95:
			return w.Number(l/lPerGal, 0) + NoBreak + "gal"
		case gal >= 0.995:
			return w.Number(l/lPerGal, 1) + NoBreak + "gal"
		}
		return w.Number(l/lPerFlOz, 0) + NoBreak + "fl" + NoBreak + "oz"
	}
	if math.Abs(l) >= 99.95 {
		return w.Number(l, 0) + NoBreak + "L"
	}
	return w.tenths(l) + NoBreak + "L"
}

// Temp formats a temperature to work to, °C: to a tenth where it is not whole; or whole °F.
func (w Writer) Temp(c float64) string {
	if w.Fahrenheit() {
		return w.WholeTemp(c)
	}
	return w.tenths(c) + NoBreak + "°C"
}

// WholeTemp formats a temperature that is read at a glance, such as the weather's, °C, in whole degrees.
func (w Writer) WholeTemp(c float64) string {
	if w.Fahrenheit() {
		return w.Number(c*9/5+32, 0) + NoBreak + "°F"
	}
	return w.Number(c, 0) + NoBreak + "°C"
}

// TempDifference formats a difference of temperatures, K.
func (w Writer) TempDifference(k float64) string {
	if w.Fahrenheit() {
		return w.Number(k*9/5, 0) + NoBreak + "°F"
	}
	return w.tenths(k) + NoBreak + "°C"
}

// tenths formats x with a decimal unless that is zero.
func (w Writer) tenths(x float64) string {
	if math.Abs(x-math.Round(x)) < 0.05 {
		return w.Number(x, 0)
	}
	return w.Number(x, 1)
}

// Height formats a height above sea level, m, in whole metres; in feet where temperatures are in °F.
func (w Writer) Height(m float64) string {
	if w.Fahrenheit() {
		return w.Number(m/0.3048, 0) + NoBreak + "ft"
	}
	return w.Number(m, 0) + NoBreak + "m"
}
