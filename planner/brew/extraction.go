// Package brew is where the water and the coffee go: strength and yield of a recipe, the water that stays in the grounds,
// the split of a recipe's water into brew water and ice, and what measured brews say about a coffee.
package brew

import "errors"

// Defaults of a coffee that nobody has measured.
const (
	DefaultRetainedRatio = 2.1  // g liquid kept per g dose
	DefaultMaxYieldPct   = 21.8 // dissolvable share of the dose, %
)

// ErrTooLittleWater is returned for brew water that the grounds keep whole: W ≤ A·d.
var ErrTooLittleWater = errors.New("the grounds keep all of that water")

// Extraction is the balance of one brew. Masses in g.
type Extraction struct {
	LiquidG    float64 // all the liquid at the end of contact, M = W + S·d
	BeverageG  float64 // what runs off, B = M − A·d
	RetainedG  float64 // liquid kept by the grounds, A·d
	DissolvedG float64 // coffee that left the solids, S·d: in the beverage and in the retained liquid
	SpentG     float64 // solids left, d − S·d
	TDSPct     float64 // strength, % by mass
	YieldPct   float64 // TDS·B/d, %
}

// Extract is the modelled brew of doseG g of coffee with waterG g of water, retainedRatio g of liquid kept per g dose and
// maxYieldPct % of the dose dissolvable: equilibrium desorption, E = S·(1 − A·d/M) (Liang, Chan & Ristenpart, Scientific
// Reports 11 (2021) 6904, from memory). For poured brews an approximation good over 1:8–1:17; see Doubtful.
// ErrTooLittleWater when waterG ≤ retainedRatio·doseG or a number is not positive.
func Extract(doseG, waterG, retainedRatio, maxYieldPct float64) (Extraction, error) {
	if !(doseG > 0) || !(waterG > retainedRatio*doseG) {
		return Extraction{}, ErrTooLittleWater
	}
	s := maxYieldPct / 100
	x := Extraction{LiquidG: waterG + s*doseG, RetainedG: retainedRatio * doseG, DissolvedG: s * doseG}
	x.BeverageG = x.LiquidG - x.RetainedG
	x.SpentG = doseG - x.DissolvedG
	x.TDSPct = 100 * x.DissolvedG / x.LiquidG
	x.YieldPct = x.TDSPct * x.BeverageG / doseG
	return x, nil
}

// MeasuredYield is the extraction yield, %, of a brew of which strength and beverage are measured: E = TDS·B/d. Nothing is
// modelled. 0 when doseG is not positive.
func MeasuredYield(doseG, beverageG, tdsPct float64) float64 {
	if doseG <= 0 {
		return 0
	}
	return tdsPct * beverageG / doseG
}

// Diluted is the strength, %, of beverageG g at tdsPct with addedG g of water or melted ice in it.
func Diluted(tdsPct, beverageG, addedG float64) float64 {
	if beverageG+addedG <= 0 {
		return 0
	}
	return tdsPct * beverageG / (beverageG + addedG)
}
