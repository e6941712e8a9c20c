package chill

import "math"

// Bath is plain ice and water around a vessel. Ice keeps it at ColdC; when the ice is gone the water warms.
type Bath struct {
	IceG   float64 // as it is when the vessel goes in
	WaterG float64
	ColdC  float64 // ≥ 0, about 0 where stirred; warmer where it is not
	IceC   float64 // −40…0
}

// BathEnd is the bath and the time when the beverage has reached its temperature, or has come as near as it can.
type BathEnd struct {
	Minutes  float64 // +Inf when it is not reached
	IceLeftG float64
	BathC    float64
	FinalC   float64 // of the beverage: the wanted one, or where it meets the bath
}

// Cool follows massG g of beverage from fromC to toC (°C) in the bath through uaWPerK W/K: lumped cooling against ColdC while
// there is ice, then against water that warms with the heat it takes. The bath's own gain from the room is not in it.
func (b Bath) Cool(massG, fromC, uaWPerK, toC float64) BathEnd {
	if toC >= fromC || massG <= 0 {
		return BathEnd{IceLeftG: b.IceG, BathC: b.ColdC, FinalC: fromC}
	}
	cold := WaterEnthalpy(b.ColdC) - IceEnthalpy(b.IceC)
	// The beverage temperature at which the last ice is gone.
	out := WaterTemp(WaterEnthalpy(fromC) - b.IceG*cold/massG)
	if out <= toC {
		min := CoolingMinutes(massG, fromC, b.ColdC, uaWPerK, toC)
		if math.IsInf(min, 1) { // not above the bath: it meets the bath
			return BathEnd{Minutes: min, IceLeftG: b.left(massG, fromC, b.ColdC, cold), BathC: b.ColdC, FinalC: max(b.ColdC, toC)}
		}
		return BathEnd{Minutes: min, IceLeftG: b.left(massG, fromC, toC, cold), BathC: b.ColdC, FinalC: toC}
	}
	first := CoolingMinutes(massG, fromC, b.ColdC, uaWPerK, out)
	// Two lumps from here: the difference falls as exp(−UA·(1/C₁+1/C₂)·t).
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
