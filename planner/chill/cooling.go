package chill

import "math"

// CoolingMinutes is the time for massG g of beverage to cool from fromC to toC (°C) in surroundings at ambientC through
// uaWPerK W/K: lumped cooling, m·c/UA·ln((T0−Ta)/(T1−Ta)), with c the mean over the span. 0 if it is already at toC, +Inf if
// it never gets there (toC not above ambientC, or uaWPerK not positive).
func CoolingMinutes(massG, fromC, ambientC, uaWPerK, toC float64) float64 {
	if toC >= fromC || massG <= 0 {
		return 0
	}
	if toC <= ambientC || uaWPerK <= 0 {
		return math.Inf(1)
	}
	c := (WaterEnthalpy(fromC) - WaterEnthalpy(toC)) / (fromC - toC) // kJ/(kg·K) = J/(g·K)
	return massG * c / uaWPerK * math.Log((fromC-ambientC)/(toC-ambientC)) / 60
}

// BathIceG is the bath ice, g as scooped, that absorbs the heat of massG g of beverage cooled from fromC to toC (°C) while it
// melts and warms to bathC (≥ 0 °C). iceC is −40…0 °C; wetShare (0…1) of the ice is water at 0 °C. Heat gained by the bath from
// the room is neglected. +Inf if the ice cannot absorb any heat.
func BathIceG(massG, fromC, toC, bathC, iceC, wetShare float64) float64 {
	if toC >= fromC || massG <= 0 {
		return 0
	}
	cold := WaterEnthalpy(max(bathC, 0)) - Mix{IceC: iceC, WetShare: wetShare}.iceEnthalpy()
	if cold < 1e-9 {
		return math.Inf(1)
	}
	return massG * (WaterEnthalpy(fromC) - WaterEnthalpy(toC)) / cold
}
