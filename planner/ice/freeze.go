// Package ice is the making, keeping and melting of ice: how long a mould takes to freeze, what a machine gives on a hot
// day, what the bin loses, and what the ice's minerals do to the drink.
package ice

import (
	"hotday/planner/chill"
)

// Geometry is the shape in which water freezes.
type Geometry string

// The geometries. Mould.ThicknessMM is the full thickness of a slab and the diameter of the others.
const (
	Slab     Geometry = "slab"
	Cylinder Geometry = "cylinder"
	Sphere   Geometry = "sphere"
)

// LatentHeat is the heat of melting, kJ/kg (IAPWS-06 and IAPWS-95 at 0 °C and 101.325 kPa).
const LatentHeat = 333.4

// Mould is one load of water in a freezer.
type Mould struct {
	ThicknessMM  float64 // 1…500
	Geometry     Geometry
	Sides        int      // of a slab: 1 or 2 faces cooled (0 is read as 2); a slab cooled on one face freezes like one of twice its thickness
	WaterC       float64  // 0…100
	AirC         float64  // below 0
	HWm2K        float64  // surface film, W/(m²·K): still freezer air 5–10, fan 15–40
	MassKg       float64  // of the whole load
	FreezerHeatW float64  // heat the freezer can take out besides its own; 0: no limit known
	FinalC       *float64 // wanted at the middle, AirC < FinalC ≤ 0; nil: until all is ice
}

// Limit says what sets the freezing time.
type Limit string

// The limits.
const (
	BySurface      Limit = "surface"
	ByCoolingPower Limit = "cooling_power"
)

// Freezing is how a load freezes.
type Freezing struct {
	Minutes       float64 // until all is ice, or FinalC at the middle: the longer of the two below
	SurfaceMin    float64 // by conduction through film and ice
	PowerMin      float64 // by the freezer's power; 0 when none is given
	EnergyKJPerKg float64 // heat out of each kg, from water at WaterC to ice at FinalC (0 °C when nil)
	Limit         Limit
	KgPerDay      float64 // MassKg after MassKg without a pause
	MeanIceC      float64 // mean temperature of the ice when done
}

// Freeze computes the load. The mould's numbers must lie in the ranges of Mould; see the calculation "freeze" for the checks.
func (m Mould) Freeze() Freezing {
	final := 0.0
	if m.FinalC != nil {
		final = *m.FinalC
	}
	f := Freezing{EnergyKJPerKg: chill.WaterEnthalpy(m.WaterC) - chill.IceEnthalpy(final), Limit: BySurface}
	seconds, mean := m.solve()
	f.SurfaceMin, f.MeanIceC = seconds/60, mean
	f.Minutes = f.SurfaceMin
	if m.FreezerHeatW > 0 {
		f.PowerMin = m.MassKg * f.EnergyKJPerKg * 1000 / m.FreezerHeatW / 60
		if f.PowerMin > f.SurfaceMin {
			f.Minutes, f.Limit = f.PowerMin, ByCoolingPower
		}
	}
	if f.Minutes > 0 {
		f.KgPerDay = m.MassKg * 1440 / f.Minutes
	}
	return f
}

// halfWay is the distance from the cooled surface to what freezes last, m.
func (m Mould) halfWay() float64 {
	if m.Geometry == Slab && m.Sides == 1 {
		return m.ThicknessMM / 1000
	}
	return m.ThicknessMM / 2000
}
