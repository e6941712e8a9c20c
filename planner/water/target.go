package water

import "fmt"

// Range of water for brewing: SCA water for brewing and its later handbooks; from memory. mg/L, the hardnesses and the
// alkalinity as CaCO3.
const (
	CalciumLow, CalciumHigh       = 17.0, 85.0 // 68 aimed at
	HardnessLow, HardnessHigh     = 50.0, 175.0
	AlkalinityAim                 = 40.0
	AlkalinityLow, AlkalinityHigh = 20.0, 75.0  // "about 40" read so widely
	SolidsLow, SolidsHigh         = 75.0, 250.0 // 150 aimed at
)

// Unsuitable says in sentences where the water is outside the range for brewing; none inside it. Calcium hardness within
// its range and total hardness within the later handbooks' both count as hardness in range. pH and chlorine are not known
// here.
func Unsuitable(w Ions) []string {
	var out []string
	ca, total := w.CalciumHardness(), w.Hardness()
	if (ca < CalciumLow || ca > CalciumHigh) && (total < HardnessLow || total > HardnessHigh) {
		out = append(out, fmt.Sprintf("calcium hardness %.0f mg/L as CaCO3 is outside %.0f–%.0f (total %.0f, wanted %.0f–%.0f)",
			ca, CalciumLow, CalciumHigh, total, HardnessLow, HardnessHigh))
	}
	if a := w.Alkalinity(); a < AlkalinityLow || a > AlkalinityHigh {
		out = append(out, fmt.Sprintf("alkalinity %.0f mg/L as CaCO3 is far from the %.0f aimed at", a, AlkalinityAim))
	}
	if s := w.Solids(); s < SolidsLow || s > SolidsHigh {
		out = append(out, fmt.Sprintf("dissolved solids %.0f mg/L are outside %.0f–%.0f", s, SolidsLow, SolidsHigh))
	}
	return out
}

// InDrink is the water of a drink of which brewG g were brewed with the water w and iceG g are ice of it that kept only
// mineralShare (0…1) of its minerals.
func InDrink(w Ions, brewG, iceG, mineralShare float64) Ions {
	return Blend(w, brewG, w.Times(mineralShare), iceG)
}
