package chill

import "math"

// Regime is the kind of equilibrium reached by a beverage with ice.
type Regime string

// The regimes.
const (
	AllMelted   Regime = "all_melted"   // at or above 0 °C, no ice left
	IceLeft     Regime = "ice_left"     // 0 °C with ice left
	WouldFreeze Regime = "would_freeze" // the drink itself would start to freeze: not modelled
)

// Mix is a beverage with the ice and vessel it is combined with. Masses in g, temperatures in °C.
type Mix struct {
	BeverageG   float64 // > 0
	BeverageC   float64 // 0…100
	TDSPct      float64 // dissolved solids of the beverage, % by mass
	IceG        float64 // ice as scooped, including the water on it
	IceC        float64 // −40…0
	WetShare    float64 // 0…1: share of IceG that is water at 0 °C
	VesselJPerK float64 // heat capacity of a vessel that ends at the drink's temperature; 0: none
	VesselC     float64 // its initial temperature; read only if VesselJPerK > 0
	HeatGainJ   float64 // heat gained from the surroundings
}

// State is the mixture in equilibrium.
type State struct {
	IceMeltedG  float64 // including the water on the ice
	IceLeftG    float64
	FinalC      float64
	FinalG      float64 // liquid: beverage plus melted ice
	FinalTDSPct float64
	Regime      Regime
}

// iceEnthalpy is the specific enthalpy of the ice as scooped, kJ/kg.
func (m Mix) iceEnthalpy() float64 {
	return (1-m.WetShare)*IceEnthalpy(m.IceC) + m.WetShare*WaterEnthalpy(0)
}

// outsideKJ is the heat brought in by the vessel, relative to 0 °C, and the surroundings.
func (m Mix) outsideKJ() float64 { return (m.VesselJPerK*m.VesselC + m.HeatGainJ) / 1000 }

// heatKJ is the total enthalpy of the initial state, kJ.
func (m Mix) heatKJ() float64 {
	return m.BeverageG/1000*WaterEnthalpy(m.BeverageC) + m.IceG/1000*m.iceEnthalpy() + m.outsideKJ()
}

// Settle solves the heat balance m_b·h_w(T_b) + m_i·h_i(T_i) + C_v·T_v + Q = enthalpy of the final state. All ice melts if that
// leaves the mixture at or above 0 °C; otherwise it ends at 0 °C with ice left. If that cannot balance either, Regime is
// WouldFreeze and the state is a placeholder: 0 °C, nothing melted.
func (m Mix) Settle() State {
	heat, total := m.heatKJ(), m.BeverageG+m.IceG
	tol := 1e-12 * (math.Abs(heat) + total)
	if heat >= total/1000*WaterEnthalpy(0)-tol {
		t := waterTempWith(heat, total/1000, m.VesselJPerK/1000)
		return m.after(m.IceG, t, AllMelted)
	}
	// At 0 °C: heat = (m_b + melted)·h_w(0) + (m_i − melted)·h_i(0); the vessel, also at 0 °C, contributes nothing.
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

// IceFor is the ice, g as scooped, that melts completely and brings the mixture to targetC; IceG is ignored. 0 if no ice is
// needed. ok is false if no amount is enough (water at 0 °C cannot bring anything to 0 °C).
func (m Mix) IceFor(targetC float64) (iceG float64, ok bool) {
	hT := WaterEnthalpy(targetC)
	excess := m.BeverageG/1000*(WaterEnthalpy(m.BeverageC)-hT) + m.outsideKJ() - m.VesselJPerK/1000*targetC
	if excess <= 0 {
		return 0, true
	}
	cold := hT - m.iceEnthalpy() // heat absorbed by the ice, kJ/kg
	if cold < 1e-9 {
		return math.Inf(1), false
	}
	return excess / cold * 1000, true
}

// PrecoolFor is the highest beverage temperature, °C, at most BeverageC, from which the ice brings the mixture to targetC or
// below. If vessel and heat gain alone are too much for the ice it is 0 and ok is false.
func (m Mix) PrecoolFor(targetC float64) (tempC float64, ok bool) {
	hT := WaterEnthalpy(targetC)
	h := hT + (m.IceG/1000*(hT-m.iceEnthalpy())-m.outsideKJ()+m.VesselJPerK/1000*targetC)/(m.BeverageG/1000)
	if h < WaterEnthalpy(0)-1e-9 {
		return 0, false
	}
	if h >= WaterEnthalpy(m.BeverageC) {
		return m.BeverageC, true
	}
	return waterTemp(h), true
}

// IceColdEnoughFor is the highest ice temperature, °C (−40…0), at which IceG brings the mixture to targetC; ok is false if
// −40 °C is not cold enough.
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
