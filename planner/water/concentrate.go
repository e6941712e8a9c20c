package water

import (
	"math"
	"slices"
)

// Solubility of the anhydrous salts at 0 °C, mass of salt in 100 g of solution (CRC Handbook of Chemistry and Physics, aqueous
// solubility of inorganic compounds; from memory), and their molar masses, g/mol. A refrigerated bottle is a little warmer.
var soluble = map[string]struct{ pct, hydrate, anhydrous float64 }{
	"CaCl2.2H2O": {36.7, molCaCl2, 110.98},
	"MgSO4.7H2O": {18.2, molMgSO4, 120.37},
	"MgCl2.6H2O": {34.0, molMgCl2, 95.21},
	"NaHCO3":     {6.5, molNaHCO3, molNaHCO3},
	"KHCO3":      {18.6, molKHCO3, molKHCO3},
}

// MostDissolved is the most of a salt that stays dissolved in a litre of solution in the fridge, g. The density of the solution, which
// is above that of water, is left out: on the safe side.
func MostDissolved(salt string) float64 {
	s := soluble[salt]
	return s.pct * 10 * s.hydrate / s.anhydrous
}

// dissolvedShare of the most that dissolves is used, so that nothing settles out in a cold bottle.
const dissolvedShare = 0.5

// Bottles are the salts that may share a bottle. Calcium keeps apart from sulphate and from hydrogen carbonate, with which it forms
// gypsum and calcite at the strength of a concentrate; magnesium keeps apart from hydrogen carbonate for the same reason. Hardness
// comes before alkalinity.
var bottles = [][]string{{"CaCl2.2H2O", "MgCl2.6H2O"}, {"MgSO4.7H2O"}, {"NaHCO3", "KHCO3"}}

// Concentrate is a stock solution of salts for dosing.
type Concentrate struct {
	Code   string     // A, B …
	Salts  []Addition // in a litre of it, g, in the order of mixing
	MLPerL float64    // to dose a litre of brewing water, mL
}

// Steps of the strength of a concentrate, mL for a litre of brewing water, and the least that is measured for a container, mL.
var strengths = []float64{0.5, 1, 2, 5, 10, 20, 50}

const leastML = 5

// leastDosedMg is the least hardness or alkalinity worth a bottle, mg/L as CaCO3.
const leastDosedMg = 1

// Concentrates are the stock solutions for a dosing in containers of sizeL L (0: any number of litres): as strong as they stay
// dissolved and can be measured. None where no salt is dosed.
func (d Dosing) Concentrates(volumeL, sizeL float64) []Concentrate {
	var out []Concentrate
	for _, bottle := range bottles {
		var gPerL []Addition // of brewing water
		for _, name := range bottle {
			k := slices.IndexFunc(d.Exact, func(a Addition) bool { return a.Salt == name })
			if k < 0 {
				continue
			}
			if s, _ := saltNamed(name); d.Exact[k].G/volumeL*have(s.perGram)[s.of] >= leastDosedMg {
				gPerL = append(gPerL, Addition{name, d.Exact[k].G / volumeL})
			}
		}
		if len(gPerL) == 0 {
			continue
		}
		c := Concentrate{Code: string(rune('A' + len(out)))}
		for _, c.MLPerL = range strengths {
			used := 0.0
			for _, a := range gPerL {
				used += a.G * 1000 / c.MLPerL / MostDissolved(a.Salt)
			}
			if least := max(sizeL, leastML) * c.MLPerL; used <= dissolvedShare && least >= leastML {
				break
			}
		}
		for _, a := range gPerL {
			c.Salts = append(c.Salts, Addition{a.Salt, a.G * 1000 / c.MLPerL})
		}
		out = append(out, c)
	}
	return out
}

// Mix is how to make a bottle of a concentrate.
type Mix struct {
	Salts   []Addition // g, to 0.1 g
	WaterML float64    // to dissolve them in
	MakesML float64    // to fill up to
}

// Bottle sizes, mL, the least salt that is weighed to a tenth of a gram, g, and the share of the water that salts are dissolved in
// before the bottle is filled up.
var bottleML = []float64{100, 250, 500, 1000, 2000, 5000}

const (
	leastSaltG    = 2.5 // 0.05 g is 2 % of it
	dissolveShare = 0.8
)

// Mix returns the smallest bottle that holds needML mL with amounts of salt that can be weighed.
func (c Concentrate) Mix(needML float64) Mix {
	m := Mix{}
	least := math.Inf(1)
	for _, a := range c.Salts {
		least = min(least, a.G)
	}
	for _, m.MakesML = range bottleML {
		if m.MakesML >= needML && least*m.MakesML/1000 >= leastSaltG {
			break
		}
	}
	if needML > m.MakesML {
		m.MakesML = math.Ceil(needML/1000) * 1000
	}
	for _, a := range c.Salts {
		m.Salts = append(m.Salts, Addition{a.Salt, math.Max(0.1, math.Round(a.G*m.MakesML/100)/10)})
	}
	m.WaterML = dissolveShare * m.MakesML
	return m
}
