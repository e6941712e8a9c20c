package water

// Recommended ranges of brewing water, mg/L, hardness and alkalinity as CaCO3: SCA water for brewing and later handbooks; from
// memory.
const (
	CalciumLow, CalciumHigh       = 17.0, 85.0 // target 68
	HardnessLow, HardnessHigh     = 50.0, 175.0
	AlkalinityAim                 = 40.0
	AlkalinityLow, AlkalinityHigh = 20.0, 75.0  // a wide reading of "about 40"
	SolidsLow, SolidsHigh         = 75.0, 250.0 // target 150
)

// Unsuitable returns the properties that are outside their ranges for brewing. Hardness is in range if calcium hardness or total
// hardness is in its own range (the latter is that of the later handbooks); it is reported as CalciumHardness. pH and chlorine are
// unknown here.
func Unsuitable(w Ions) []Property {
	var out []Property
	ca, total := w.CalciumHardness(), w.Hardness()
	if (ca < CalciumLow || ca > CalciumHigh) && (total < HardnessLow || total > HardnessHigh) {
		out = append(out, CalciumHardness)
	}
	if a := w.Alkalinity(); a < AlkalinityLow || a > AlkalinityHigh {
		out = append(out, Alkalinity)
	}
	if s := w.Solids(); s < SolidsLow || s > SolidsHigh {
		out = append(out, DissolvedSolids)
	}
	return out
}

// InDrink is the water in a drink of brewG g brewed with water w and iceG g of ice made from it, which kept mineralShare (0…1)
// of its minerals.
func InDrink(w Ions, brewG, iceG, mineralShare float64) Ions {
	return blend(w, brewG, w.Times(mineralShare), iceG)
}
