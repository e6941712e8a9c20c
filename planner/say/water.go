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
			out = append(out, v.Say("warn.water_alkalinity", "value", Number(w.Alkalinity(), 0), "aim", Number(water.AlkalinityAim, 0)))
		case water.DissolvedSolids:
			out = append(out, v.Say("warn.water_solids", "value", Number(w.Solids(), 0), "low", Number(water.SolidsLow, 0), "high", Number(water.SolidsHigh, 0)))
		default:
			out = append(out, v.Say("warn.water_hardness", "calcium", Number(w.CalciumHardness(), 0), "low", Number(water.CalciumLow, 0), "high", Number(water.CalciumHigh, 0),
				"total", Number(w.Hardness(), 0), "total_low", Number(water.HardnessLow, 0), "total_high", Number(water.HardnessHigh, 0)))
		}
	}
	return out
}
