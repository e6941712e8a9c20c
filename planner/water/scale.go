package water

import "math"

// SaturationPH is the pH at which the water is saturated with calcium carbonate (Langelier; from memory):
// pHs = (9.3 + A + B) − (C + D), A = (log10 TDS − 1)/10, B = −13.12·log10(T + 273.15) + 34.55, C = log10(calcium hardness) − 0.4,
// D = log10(alkalinity). Calcium hardness and alkalinity are mg/L as CaCO3, solids mg/L; all must be above 0.
func SaturationPH(solidsMgL, tempC, calciumHardness, alkalinity float64) float64 {
	a := (math.Log10(solidsMgL) - 1) / 10
	b := -13.12*math.Log10(tempC+273.15) + 34.55
	c := math.Log10(calciumHardness) - 0.4
	d := math.Log10(alkalinity)
	return 9.3 + a + b - c - d
}

// LangelierIndex is pH − pHs: above 0 the water can deposit scale, below 0 it dissolves it.
func LangelierIndex(ph, solidsMgL, tempC, calciumHardness, alkalinity float64) float64 {
	return ph - SaturationPH(solidsMgL, tempC, calciumHardness, alkalinity)
}
