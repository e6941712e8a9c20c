// Package water is brewing water: hardness, alkalinity and dissolved solids from the ions, dosing of salts to a target, water
// for ice and treatment, and the Langelier saturation index.
package water

import "math"

// Ions are concentrations, mg/L. Chloride and sulphate are NaN if unknown.
type Ions struct{ Ca, Mg, Na, K, HCO3, Cl, SO4 float64 }

// Molar masses, g/mol (IUPAC conventional and abridged atomic weights 2021).
const (
	molCa   = 40.078
	molMg   = 24.305
	molNa   = 22.990
	molK    = 39.098
	molHCO3 = 61.016
	molCl   = 35.45
	molSO4  = 96.06
)

// Factors of Standard Methods 2340 B and of the alkalinity convention, mg/L as CaCO3 per mg/L of the ion.
const (
	caToCaCO3   = 2.497
	mgToCaCO3   = 4.118
	hco3ToCaCO3 = 50.04 / 61.02
	driedHCO3   = 0.49 // mass fraction of bicarbonate left as carbonate on drying
)

// CalciumHardness is mg/L as CaCO3.
func (w Ions) CalciumHardness() float64 { return caToCaCO3 * w.Ca }

// MagnesiumHardness is mg/L as CaCO3.
func (w Ions) MagnesiumHardness() float64 { return mgToCaCO3 * w.Mg }

// Hardness is total hardness, mg/L as CaCO3: 2.497 Ca + 4.118 Mg (Standard Methods 2340 B).
func (w Ions) Hardness() float64 { return w.CalciumHardness() + w.MagnesiumHardness() }

// Alkalinity is mg/L as CaCO3, assuming that all of it is bicarbonate: HCO3·50.04/61.02.
func (w Ions) Alkalinity() float64 { return hco3ToCaCO3 * w.HCO3 }

// Solids estimates the total dissolved solids, mg/L: the sum of the ions, with bicarbonate counted at 0.49 as after drying.
func (w Ions) Solids() float64 {
	return w.Ca + w.Mg + w.Na + w.K + driedHCO3*w.HCO3 + w.Cl + w.SO4
}

// Charge is cations less anions, meq/L; 0 in real water.
func (w Ions) Charge() float64 {
	return w.cations() - w.anions()
}

func (w Ions) cations() float64 {
	return 2*w.Ca/molCa + 2*w.Mg/molMg + w.Na/molNa + w.K/molK
}

func (w Ions) anions() float64 { return w.HCO3/molHCO3 + w.Cl/molCl + 2*w.SO4/molSO4 }

// Closed replaces unknown (NaN) chloride or sulphate with the value that balances the charges; if both are unknown, chloride.
// offMeq is the remaining charge balance error, cations − anions, meq/L.
func (w Ions) Closed() (closed Ions, offMeq float64) {
	noCl, noSO4 := math.IsNaN(w.Cl), math.IsNaN(w.SO4)
	if noCl {
		w.Cl = 0
	}
	if noSO4 {
		w.SO4 = 0
	}
	switch rest := w.Charge(); {
	case rest <= 0:
	case noCl:
		w.Cl = rest * molCl
	case noSO4:
		w.SO4 = rest * molSO4 / 2
	}
	return w, w.Charge()
}

// Times is the water diluted with demineralised water to the given share of its minerals.
func (w Ions) Times(share float64) Ions {
	return Ions{w.Ca * share, w.Mg * share, w.Na * share, w.K * share, w.HCO3 * share, w.Cl * share, w.SO4 * share}
}

// plus is the sum of the concentrations.
func (w Ions) plus(o Ions) Ions {
	return Ions{w.Ca + o.Ca, w.Mg + o.Mg, w.Na + o.Na, w.K + o.K, w.HCO3 + o.HCO3, w.Cl + o.Cl, w.SO4 + o.SO4}
}

// blend is the mix of aG g of water a and bG g of water b.
func blend(a Ions, aG float64, b Ions, bG float64) Ions {
	if aG+bG <= 0 {
		return a
	}
	return a.Times(aG / (aG + bG)).plus(b.Times(bG / (aG + bG)))
}
