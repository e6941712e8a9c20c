package say

import (
	"hotday/planner/water"
)

// Unsuitable says which properties of water are outside their ranges for brewing, a phrase each.
func (v Voice) Unsuitable(w water.Ions) []string {
	out := []string{}
	for _, p := range water.Unsuitable(w) {
		switch p {
		case water.Alkalinity:
			out = append(out, v.Say("warn.water_alkalinity", "value", Digits(w.Alkalinity(), 0), "aim", Digits(water.AlkalinityAim, 0)))
		case water.DissolvedSolids:
			out = append(out, v.Say("warn.water_solids", "value", Digits(w.Solids(), 0), "low", Digits(water.SolidsLow, 0), "high", Digits(water.SolidsHigh, 0)))
		default:
			out = append(out, v.Say("warn.water_hardness", "calcium", Digits(w.CalciumHardness(), 0), "low", Digits(water.CalciumLow, 0), "high", Digits(water.CalciumHigh, 0),
				"total", Digits(w.Hardness(), 0), "total_low", Digits(water.HardnessLow, 0), "total_high", Digits(water.HardnessHigh, 0)))
		}
	}
	return out
}
