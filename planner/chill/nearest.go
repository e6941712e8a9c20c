package chill

import "math"

// Nearest holds single changes that each bring a mix to a target its ice does not reach, rounded to the safe side. A field is
// NaN if that change alone is not enough.
type Nearest struct {
	Reaches  bool    // the mix reaches the target as it is; the other fields then repeat its values
	PrecoolC float64 // temperature to pre-cool the beverage to, whole °C
	IceG     float64 // mass of ice, to 5 g (1 g below 100 g)
	IceC     float64 // temperature of the ice, whole °C, at least −30
}

// coldestIce is the lowest ice temperature from a shop's freezer, °C.
const coldestIce = -30

// NearestTo computes the changes that reach targetC, °C.
func (m Mix) NearestTo(targetC float64) Nearest {
	n := Nearest{PrecoolC: math.NaN(), IceG: math.NaN(), IceC: math.NaN()}
	ice, ok := m.IceFor(targetC)
	if ok && ice <= m.IceG*(1+1e-12) {
		return Nearest{Reaches: true, PrecoolC: m.BeverageC, IceG: m.IceG, IceC: m.IceC}
	}
	if ok {
		n.IceG = roundUpIce(ice)
	}
	if t, ok := m.PrecoolFor(targetC); ok && math.Floor(t+1e-9) >= 0 {
		n.PrecoolC = math.Floor(t + 1e-9)
	}
	if c, ok := m.IceColdEnoughFor(targetC); ok && math.Floor(c+1e-9) >= coldestIce {
		n.IceC = math.Floor(c + 1e-9)
	}
	return n
}

func roundUpIce(g float64) float64 {
	step := 5.0
	if g < 100 {
		step = 1
	}
	return math.Ceil(g/step-1e-9) * step
}
