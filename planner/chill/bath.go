package chill

import "math"

// Bath is an ice bath. It stays at ColdC while there is ice, then warms.
type Bath struct {
	IceG   float64 // when the vessel goes in
	WaterG float64
	ColdC  float64 // ≥ 0: about 0 if stirred, warmer if not
	IceC   float64 // −40…0
}

// BathAirUAWPerK is the heat transfer from the air to an open bath of a kitchen's size, W/K: chosen so that it loses about 1 kg of ice an
// hour at 35 °C (common practice, no source).
const BathAirUAWPerK = 2.65

// BathAirIceG is the ice, g as scooped, that an open bath at bathC °C (≥ 0) loses in the given minutes to air at airC °C:
// UA·(T_air − T_bath)·t divided by the heat that a gram of it takes up, as in BathIceG. +Inf if the ice cannot absorb any heat.
func BathAirIceG(airC, bathC, iceC, wetShare, minutes float64) float64 {
	bathC = max(bathC, 0)
	if airC <= bathC || minutes <= 0 {
		return 0
	}
	cold := WaterEnthalpy(bathC) - Mix{IceC: iceC, WetShare: wetShare}.iceEnthalpy() // J/g
	if cold < 1e-9 {
		return math.Inf(1)
	}
	return BathAirUAWPerK * (airC - bathC) * minutes * 60 / cold
}

// BathEnd is the state at which the beverage has reached its target, or the equilibrium with the bath if that is warmer.
type BathEnd struct {
	Minutes  float64 // +Inf if the target is not reached
	IceLeftG float64
	BathC    float64
	FinalC   float64 // of the beverage
}

// Cool cools massG g of beverage from fromC to toC (°C) in the bath through uaWPerK W/K: lumped cooling against ColdC while
// there is ice, then against water that warms up. Heat gained by the bath from the room is neglected.
func (b Bath) Cool(massG, fromC, uaWPerK, toC float64) BathEnd {
	if toC >= fromC || massG <= 0 {
		return BathEnd{IceLeftG: b.IceG, BathC: b.ColdC, FinalC: fromC}
	}
	cold := WaterEnthalpy(b.ColdC) - IceEnthalpy(b.IceC)
	// Beverage temperature at which the ice runs out.
	out := waterTemp(WaterEnthalpy(fromC) - b.IceG*cold/massG)
	if out <= toC {
		min := CoolingMinutes(massG, fromC, b.ColdC, uaWPerK, toC)
		if math.IsInf(min, 1) { // the target is not above the bath's temperature
			return BathEnd{Minutes: min, IceLeftG: b.left(massG, fromC, b.ColdC, cold), BathC: b.ColdC, FinalC: max(b.ColdC, toC)}
		}
		return BathEnd{Minutes: min, IceLeftG: b.left(massG, fromC, toC, cold), BathC: b.ColdC, FinalC: toC}
	}
	first := CoolingMinutes(massG, fromC, b.ColdC, uaWPerK, out)
	// From here on two lumped capacities: the difference decays as exp(−UA·(1/C₁+1/C₂)·t).
	c1 := massG * 4.19
	c2 := (b.WaterG + b.IceG) * 4.19
	if c2 <= 0 {
		return BathEnd{Minutes: math.Inf(1), BathC: fromC, FinalC: fromC}
	}
	even := (c1*out + c2*b.ColdC) / (c1 + c2)
	if toC <= even || uaWPerK <= 0 {
		return BathEnd{Minutes: math.Inf(1), BathC: even, FinalC: even}
	}
	second := math.Log((out-even)/(toC-even)) / (uaWPerK * (1/c1 + 1/c2)) / 60
	return BathEnd{Minutes: first + second, BathC: b.ColdC + c1*(out-toC)/c2, FinalC: toC}
}

func (b Bath) left(massG, fromC, toC, coldKJ float64) float64 {
	return max(0, b.IceG-massG*(WaterEnthalpy(fromC)-WaterEnthalpy(max(toC, 0)))/coldKJ)
}
