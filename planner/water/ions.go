// Package water is the shop's water: hardness, alkalinity and solids from the ions, dosing of salts to a target, what a
// plan draws and drains, and the saturation index of hard water.
package water

import "math"

// Ions are concentrations in mg/L. Chloride and sulphate may be NaN: not given.
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

// Factors of Standard Methods 2340 B and the alkalinity convention, mg/L as CaCO3 per mg/L.
const (
	caToCaCO3   = 2.497
	mgToCaCO3   = 4.118
	hco3ToCaCO3 = 50.04 / 61.02
	driedHCO3   = 0.49 // of the bicarbonate, what drying leaves as carbonate
)

// CalciumHardness and MagnesiumHardness are mg/L as CaCO3.
func (w Ions) CalciumHardness() float64 { return caToCaCO3 * w.Ca }

// MagnesiumHardness is mg/L as CaCO3.
func (w Ions) MagnesiumHardness() float64 { return mgToCaCO3 * w.Mg }

// Hardness is total hardness, mg/L as CaCO3: 2.497 Ca + 4.118 Mg (Standard Methods 2340 B).
func (w Ions) Hardness() float64 { return w.CalciumHardness() + w.MagnesiumHardness() }

// Alkalinity is mg/L as CaCO3, all of it counted as bicarbonate: HCO3·50.04/61.02.
func (w Ions) Alkalinity() float64 { return hco3ToCaCO3 * w.HCO3 }

// Solids is the estimate of dissolved solids, mg/L: the sum of the ions, bicarbonate counted at 0.49 as on drying.
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

// Closed fills chloride and sulphate that are NaN so that the charges balance: the one that is missing, or chloride when
// both are. offMeq is the charge, meq/L, that stays over (cations less anions): what the given ions do not close.
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

// Times is the water diluted with demineralised water to share of its minerals.
func (w Ions) Times(share float64) Ions {
	return Ions{w.Ca * share, w.Mg * share, w.Na * share, w.K * share, w.HCO3 * share, w.Cl * share, w.SO4 * share}
}

// Plus is the sum of concentrations.
func (w Ions) Plus(o Ions) Ions {
	return Ions{w.Ca + o.Ca, w.Mg + o.Mg, w.Na + o.Na, w.K + o.K, w.HCO3 + o.HCO3, w.Cl + o.Cl, w.SO4 + o.SO4}
}

// Blend is the mean of two waters by mass: aG g of a, bG g of b.
func Blend(a Ions, aG float64, b Ions, bG float64) Ions {
	if aG+bG <= 0 {
		return a
	}
	return a.Times(aG / (aG + bG)).Plus(b.Times(bG / (aG + bG)))
}
