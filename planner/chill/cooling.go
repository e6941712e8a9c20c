package chill

import "math"

// CoolingMinutes is the time, minutes, in which massG g of beverage cools from fromC to toC (°C) against surroundings of
// ambientC through uaWPerK W/K: lumped cooling, m·c/UA·ln((T0−Ta)/(T1−Ta)), c the mean of the span. 0 when it is there
// already; +Inf when it never gets there (toC not above ambientC, or uaWPerK not above 0).
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

// BathIceG is the plain ice, g as scooped, whose melting and warming to bathC (≥ 0 °C) takes up the heat of massG g of
// beverage cooled from fromC to toC (°C). iceC −40…0 °C; wetShare 0…1 is its part that is water at 0 °C already. The heat
// that the bath itself takes up from the room is not in it. +Inf when such ice has no cold left to give.
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
