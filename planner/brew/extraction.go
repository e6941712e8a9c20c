// Package brew is the mass balance of a brew: strength and yield of a recipe, the liquid retained by the grounds, the split
// of a recipe's water into brew water and ice, and the parameters of a coffee fitted to measured brews.
package brew

import "errors"

// ErrTooLittleWater is returned if the grounds retain all of the brew water: W ≤ A·d.
var ErrTooLittleWater = errors.New("the grounds keep all of that water")

// Extraction is the balance of one brew. Masses in g.
type Extraction struct {
	LiquidG    float64 // total liquid at the end of contact, M = W + S·d
	BeverageG  float64 // B = M − A·d
	RetainedG  float64 // liquid retained by the grounds, A·d
	DissolvedG float64 // S·d, in the beverage and in the retained liquid
	SpentG     float64 // undissolved solids, d − S·d
	TDSPct     float64 // strength, % by mass
	YieldPct   float64 // TDS·B/d, %
}

// Extract models a brew of doseG g of coffee in waterG g of water by equilibrium desorption, E = S·(1 − A·d/M) (Liang, Chan &
// Ristenpart, Scientific Reports 11 (2021) 6904, from memory). retainedRatio is A, g of liquid retained per g of dose;
// maxYieldPct is S, the soluble share of the dose, %. For poured brews it is an approximation, good over 1:8–1:17; see
// Doubtful. ErrTooLittleWater if waterG ≤ retainedRatio·doseG or doseG is not positive.
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

// MeasuredYield is the extraction yield, %, from measured strength and beverage mass, without a model: E = TDS·B/d. 0 if doseG
// is not positive.
func MeasuredYield(doseG, beverageG, tdsPct float64) float64 {
	if doseG <= 0 {
		return 0
	}
	return tdsPct * beverageG / doseG
}

// diluted is the strength, %, of beverageG g at tdsPct after addedG g of water or melted ice.
func diluted(tdsPct, beverageG, addedG float64) float64 {
	if beverageG+addedG <= 0 {
		return 0
	}
	return tdsPct * beverageG / (beverageG + addedG)
}
