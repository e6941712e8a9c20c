package audit

import (
	"math"

	"hotday/models"
)

// Specific enthalpies, kJ/kg, fitted to IAPWS-95 and IAPWS-06 at 101.325 kPa (error at most 0.002): water from 0 to 100 °C, ice from −40
// to 0 °C.
func waterKJ(t float64) float64 {
	return 0.06259087 + t*(4.2183737+t*(-1.5534444e-3+t*(3.0809875e-5+t*(-3.3557435e-7+t*(2.0742815e-9-t*5.1958984e-12)))))
}

func iceKJ(t float64) float64 {
	return -333.36008 + t*(2.0967348+t*(3.6917752e-3+t*6.3986933e-7))
}

// mixedC is the temperature of a brew of brewedG g at brewedC after iceG g of ice at iceC has been stirred in, °C, with wet of the ice's
// mass liquid at 0 °C, and the ice that has melted by then, g. The brew counts as water. Where ice is left, it is at 0 °C.
func mixed(brewedG, brewedC, iceG, iceC, wet float64) (finalC, meltedG float64) {
	all := brewedG + iceG
	if all <= 0 {
		return brewedC, 0
	}
	h := (brewedG*waterKJ(brewedC) + iceG*(1-wet)*iceKJ(iceC) + iceG*wet*waterKJ(0)) / all
	lo, hi := 0.0, 100.0
	if h <= waterKJ(0) {
		left := (waterKJ(0) - h) / (waterKJ(0) - iceKJ(0)) * all
		return 0, max(0, iceG-left)
	}
	for range 60 {
		if mid := (lo + hi) / 2; waterKJ(mid) < h {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2, iceG
}

// liquid is what a dose and its brew water give. All that dissolves is spread evenly over all the liquid, and the grounds keep their share:
// B = W + S·d − A·d, TDS = S·d/(W + S·d), with dissolvable share S and retained ratio A.
type liquid struct {
	brewedG    float64
	tdsPct     float64 // without ice
	dissolvedG float64
	retainedG  float64
}

func brewed(bev *models.Beverage, doseG, waterG float64) liquid {
	s := bev.MaxYieldPct / 100
	l := liquid{dissolvedG: s * doseG, retainedG: bev.RetainedRatio * doseG}
	l.brewedG = waterG + l.dissolvedG - l.retainedG
	if m := waterG + l.dissolvedG; m > 0 {
		l.tdsPct = 100 * l.dissolvedG / m
	}
	return l
}

// recipe is a beverage's recipe for a dose, unrounded.
func recipe(bev *models.Beverage, doseG float64) (waterG, iceG float64) {
	all := doseG * bev.Ratio
	return all * (1 - bev.IceShare), all * bev.IceShare
}

// coolingMin is how long massG g takes from one temperature to another in surroundings of ambientC through ua W/K, min: lumped cooling.
func coolingMin(massG, fromC, ambientC, ua, toC float64) float64 {
	if toC >= fromC || ua <= 0 || toC <= ambientC {
		return 0
	}
	return massG * 4.186 / ua * math.Log((fromC-ambientC)/(toC-ambientC)) / 60
}

// Ions that salts bring, mg of ion in 1 mg of salt, times the factors of hardness and alkalinity as CaCO3 (Standard Methods 2340 B: 2.497
// Ca + 4.118 Mg; alkalinity HCO3·50.04/61.02). Molar masses with water of crystallisation.
var saltCaCO3 = map[string]struct{ hardness, alkalinity, calcium float64 }{
	"CaCl2.2H2O": {hardness: 2.497 * 40.078 / 147.01, calcium: 2.497 * 40.078 / 147.01},
	"MgSO4.7H2O": {hardness: 4.118 * 24.305 / 246.47},
	"MgCl2.6H2O": {hardness: 4.118 * 24.305 / 203.30},
	"NaHCO3":     {alkalinity: 50.04 / 61.02 * 61.016 / 84.007},
	"KHCO3":      {alkalinity: 50.04 / 61.02 * 61.016 / 100.115},
}

// hardnessOf and alkalinityOf are those of water with ions of the source, mg/L as CaCO3.
func hardnessOf(w models.Ions) float64 { return 2.497*w.CaMgL + 4.118*w.MgMgL }

func alkalinityOf(w models.Ions) float64 { return w.HCO3MgL * 50.04 / 61.02 }

// makesUpTo is the most that an ice machine makes in a day, g: by its curve, else by its rating in the coolest air of the plan, with the
// default slopes of 1.5 % per °C of air and 1 % per °C of inlet water.
func makesUpTo(m *models.IceMaker, coolestC, inletC float64) float64 {
	most := 0.0
	for _, c := range m.Curve {
		most = max(most, c.KgPerDay)
	}
	if len(m.Curve) == 0 {
		most = m.KgPerDayRated * max(0, 1+0.015*(m.RatedAirC-coolestC)+0.01*(m.RatedWaterC-inletC))
	}
	return 1000 * most
}

// coolestC is the coolest air of the plan, °C.
func coolestC(r *models.PlanRequest) float64 {
	c := models.UnknownHottestC
	for _, w := range r.Weather {
		c = min(c, w.TempC)
	}
	return c - 8 // hours without weather follow the hours around them, and nights are cooler
}

// plankMin is the time to freeze trays by Plank's formula, min: below the real time by the heat above and below freezing, so a lower
// bound. It is bounded by the freezer's cooling power too.
func plankMin(m *models.MouldSet) float64 {
	const rho, latent, k = 917.0, 333400.0, 2.2
	a := m.ThicknessMM / 1000
	p, r := 0.5, 0.125
	switch m.Geometry {
	case "cylinder":
		p, r = 0.25, 1.0/16
	case "sphere":
		p, r = 1.0/6, 1.0/24
	default:
		if m.Sides == 1 {
			a *= 2
		}
	}
	surface := rho * latent / -m.FreezerAirC * (p*a/m.HWM2K + r*a*a/k) / 60
	power := m.LoadG / 1000 * latent / m.FreezerHeatW / 60
	return max(surface, power)
}
