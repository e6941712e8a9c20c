package chill

import "math"

// Regime says how stirring ice into a beverage ends.
type Regime string

// The regimes.
const (
	AllMelted   Regime = "all_melted"   // above or at 0 °C, no ice left
	IceLeft     Regime = "ice_left"     // 0 °C with ice floating in it
	WouldFreeze Regime = "would_freeze" // the ice is so cold that the drink itself would begin to freeze: not modelled
)

// Mix is a beverage and what is put together with it. Masses in g, temperatures in °C.
type Mix struct {
	BeverageG   float64 // > 0
	BeverageC   float64 // 0…100
	TDSPct      float64 // dissolved solids of the beverage, % by mass
	IceG        float64 // ice as scooped, the wet part included
	IceC        float64 // −40…0
	WetShare    float64 // 0…1: the part of IceG that is water at 0 °C
	VesselJPerK float64 // heat capacity of the vessel that follows the drink; 0: none
	VesselC     float64 // its temperature before; only read when VesselJPerK > 0
	HeatGainJ   float64 // heat taken up from outside meanwhile
}

// State is the mixture after it has come to rest.
type State struct {
	IceMeltedG  float64 // what has become drink, the wet part of the ice included
	IceLeftG    float64
	FinalC      float64
	FinalG      float64 // liquid: beverage and melted ice
	FinalTDSPct float64
	Regime      Regime
}

// iceEnthalpy is that of the ice as scooped, kJ/kg.
func (m Mix) iceEnthalpy() float64 {
	return (1-m.WetShare)*IceEnthalpy(m.IceC) + m.WetShare*WaterEnthalpy(0)
}

// outsideKJ is the heat that vessel and surroundings hold above 0 °C.
func (m Mix) outsideKJ() float64 { return (m.VesselJPerK*m.VesselC + m.HeatGainJ) / 1000 }

// heatKJ is the total enthalpy before, kJ.
func (m Mix) heatKJ() float64 {
	return m.BeverageG/1000*WaterEnthalpy(m.BeverageC) + m.IceG/1000*m.iceEnthalpy() + m.outsideKJ()
}

// Settle solves the balance m_b·h_w(T_b) + m_i·h_i(T_i) + C_v·T_v + Q = state after. When everything melted would be at
// or above 0 °C it is; else the drink ends at 0 °C with ice left; when not even that balances, Regime is WouldFreeze and
// nothing is claimed: 0 °C, nothing melted.
func (m Mix) Settle() State {
	heat, total := m.heatKJ(), m.BeverageG+m.IceG
	tol := 1e-12 * (math.Abs(heat) + total)
	if heat >= total/1000*WaterEnthalpy(0)-tol {
		t := waterTempWith(heat, total/1000, m.VesselJPerK/1000)
		return m.after(m.IceG, t, AllMelted)
	}
	// At 0 °C: heat = (m_b + melted)·h_w(0) + (m_i − melted)·h_i(0); the vessel, at 0 °C too, holds nothing.
	hw, hi := WaterEnthalpy(0), IceEnthalpy(0)
	meltedG := (heat*1000 - m.BeverageG*hw - m.IceG*hi) / (hw - hi)
	wetG := m.WetShare * m.IceG
	if meltedG < wetG-tol*1000 && meltedG < -tol*1000 {
		return m.after(0, 0, WouldFreeze)
	}
	return m.after(min(max(meltedG, 0), m.IceG), 0, IceLeft)
}

func (m Mix) after(meltedG, finalC float64, r Regime) State {
	final := m.BeverageG + meltedG
	return State{IceMeltedG: meltedG, IceLeftG: m.IceG - meltedG, FinalC: finalC, FinalG: final,
		FinalTDSPct: m.TDSPct * m.BeverageG / final, Regime: r}
}

// IceFor is the ice, g as scooped, that brings the mixture (its IceG not read) to targetC with nothing left over; 0 when it
// is there without ice. ok is false when no amount does it (water at 0 °C cannot bring anything to 0 °C).
func (m Mix) IceFor(targetC float64) (iceG float64, ok bool) {
	hT := WaterEnthalpy(targetC)
	excess := m.BeverageG/1000*(WaterEnthalpy(m.BeverageC)-hT) + m.outsideKJ() - m.VesselJPerK/1000*targetC
	if excess <= 0 {
		return 0, true
	}
	cold := hT - m.iceEnthalpy() // kJ that a kg of this ice takes up
	if cold < 1e-9 {
		return math.Inf(1), false
	}
	return excess / cold * 1000, true
}

// PrecoolFor is the highest beverage temperature, °C and never above BeverageC, at which the ice of the mix brings it to
// targetC or below. Where vessel or gain alone are too warm for the ice it is 0, and ok is false.
func (m Mix) PrecoolFor(targetC float64) (tempC float64, ok bool) {
	hT := WaterEnthalpy(targetC)
	h := hT + (m.IceG/1000*(hT-m.iceEnthalpy())-m.outsideKJ()+m.VesselJPerK/1000*targetC)/(m.BeverageG/1000)
	if h < WaterEnthalpy(0)-1e-9 {
		return 0, false
	}
	if h >= WaterEnthalpy(m.BeverageC) {
		return m.BeverageC, true
	}
	return WaterTemp(h), true
}

// IceColdEnoughFor is the warmest ice, °C in −40…0, with which the mix's IceG brings it to targetC; ok is false when even
// ice of −40 °C does not.
func (m Mix) IceColdEnoughFor(targetC float64) (iceC float64, ok bool) {
	reaches := func(c float64) bool {
		x := m
		x.IceC = c
		need, can := x.IceFor(targetC)
		return can && need <= m.IceG
	}
	if reaches(0) {
		return 0, true
	}
	if !reaches(MinIceC) {
		return MinIceC, false
	}
	lo, hi := MinIceC, 0.0
	for range 60 {
		mid := (lo + hi) / 2
		if reaches(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo, true
}
