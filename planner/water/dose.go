package water

import (
	"cmp"
	"math"
	"slices"
)

type salt struct {
	name    string
	perGram Ions // mg of each ion in 1 g
	of      quantity
}

// quantity is the water quality that a salt is dosed for. Each salt has exactly one, which leaves dosing with one unknown: the
// demineralised share.
type quantity int

const (
	calcium quantity = iota
	magnesium
	alkaline
	quantities
)

// Molar masses of the salts, with their water of crystallisation, g/mol.
const (
	molCaCl2  = 147.01
	molMgSO4  = 246.47
	molMgCl2  = 203.30
	molNaHCO3 = 84.007
	molKHCO3  = 100.115
)

var salts = []salt{
	{"CaCl2.2H2O", Ions{Ca: 1000 * molCa / molCaCl2, Cl: 2000 * molCl / molCaCl2}, calcium},
	{"MgSO4.7H2O", Ions{Mg: 1000 * molMg / molMgSO4, SO4: 1000 * molSO4 / molMgSO4}, magnesium},
	{"MgCl2.6H2O", Ions{Mg: 1000 * molMg / molMgCl2, Cl: 2000 * molCl / molMgCl2}, magnesium},
	{"NaHCO3", Ions{Na: 1000 * molNa / molNaHCO3, HCO3: 1000 * molHCO3 / molNaHCO3}, alkaline},
	{"KHCO3", Ions{K: 1000 * molK / molKHCO3, HCO3: 1000 * molHCO3 / molKHCO3}, alkaline},
}

// Salts lists the names of the salts known.
func Salts() []string {
	names := make([]string, len(salts))
	for i, s := range salts {
		names[i] = s.name
	}
	return names
}

func saltNamed(name string) (salt, bool) {
	i := slices.IndexFunc(salts, func(s salt) bool { return s.name == name })
	if i < 0 {
		return salt{}, false
	}
	return salts[i], true
}

// Target is the water to aim for.
type Target struct {
	Hardness   float64 // mg/L as CaCO3
	Alkalinity float64 // mg/L as CaCO3
	MgShare    float64 // share of magnesium in the hardness, 0…1
}

func (t Target) wanted() [quantities]float64 {
	return [quantities]float64{t.Hardness * (1 - t.MgShare), t.Hardness * t.MgShare, t.Alkalinity}
}

func have(w Ions) [quantities]float64 {
	return [quantities]float64{w.CalciumHardness(), w.MagnesiumHardness(), w.Alkalinity()}
}

// Addition is a mass of salt to add.
type Addition struct {
	Salt string
	G    float64
}

// Dosing is the recipe for the water.
type Dosing struct {
	DemineralisedShare float64    // of the volume; the rest is the source
	Additions          []Addition // rounded to 0.1 g, in the order of the salts on hand, without zeros
	Exact              []Addition // before rounding
	Resulting          Ions       // with the rounded dose
	ExactResult        Ions       // with the exact dose
	Reachable          bool       // the exact dose meets the target
	// Deviations from the target with the exact dose, mg/L as CaCO3.
	OffCalcium, OffMagnesium, OffAlkalinity float64
	ChargeOffMeq                            float64 // charge balance error of the source, meq/L; see Ions.Closed
}

// Dose solves for the demineralised share and the masses of the salts on hand, all non-negative, that bring volumeL L of the
// source to the target or closest to it (least squares over calcium hardness, magnesium hardness and alkalinity), with the
// smallest such demineralised share. Of two salts for the same quantity the first on hand is used. Names not in Salts are
// ignored.
func Dose(volumeL float64, start Ions, target Target, onHand []string) Dosing {
	source, off := start.Closed()
	first := [quantities]*salt{}
	for _, name := range onHand {
		if s, ok := saltNamed(name); ok && first[s.of] == nil {
			first[s.of] = &s
		}
	}
	want, base := target.wanted(), have(source)
	var can [quantities]bool
	for q := range quantities {
		can[q] = first[q] != nil
	}
	d := Dosing{DemineralisedShare: demineralised(base, want, can), ChargeOffMeq: off}
	d.ExactResult = source.Times(1 - d.DemineralisedShare)
	d.Resulting = d.ExactResult
	softened := have(d.ExactResult)
	for _, name := range onHand {
		s, ok := saltNamed(name)
		if !ok || first[s.of] == nil || first[s.of].name != name || slices.ContainsFunc(d.Exact, func(a Addition) bool { return a.Salt == name }) {
			continue
		}
		perGram := have(s.perGram)[s.of]
		gPerL := max(0, want[s.of]-softened[s.of]) / perGram
		d.Exact = append(d.Exact, Addition{name, gPerL * volumeL})
		d.ExactResult = d.ExactResult.plus(s.perGram.Times(gPerL))
		rounded := math.Round(gPerL*volumeL*10) / 10
		if rounded > 0 {
			d.Additions = append(d.Additions, Addition{name, rounded})
			d.Resulting = d.Resulting.plus(s.perGram.Times(rounded / volumeL))
		}
	}
	got := have(d.ExactResult)
	d.OffCalcium, d.OffMagnesium, d.OffAlkalinity = got[calcium]-want[calcium], got[magnesium]-want[magnesium], got[alkaline]-want[alkaline]
	d.Reachable = max(math.Abs(d.OffCalcium), math.Abs(d.OffMagnesium), math.Abs(d.OffAlkalinity)) < 1e-6*(1+target.Hardness+target.Alkalinity)
	return d
}

// demineralised is the share f in [0,1] that minimises Σ r², with r = base·(1−f) − want, or its positive part for a quantity
// that a salt can raise; of equal minima the smallest. The sum is convex and piecewise quadratic, so it is solved exactly
// between its breakpoints.
func demineralised(base, want [quantities]float64, can [quantities]bool) float64 {
	breaks := []float64{0, 1}
	for q := range quantities {
		if base[q] > 0 && base[q] > want[q] {
			breaks = append(breaks, 1-want[q]/base[q])
		}
	}
	slices.SortFunc(breaks, cmp.Compare[float64])
	cost := func(f float64) float64 {
		sum := 0.0
		for q := range quantities {
			r := base[q]*(1-f) - want[q]
			if can[q] {
				r = max(0, r)
			}
			sum += r * r
		}
		return sum
	}
	best, least := 0.0, cost(0)
	try := func(f float64) {
		if c := cost(f); c < least-1e-12*(1+least) {
			best, least = f, c
		}
	}
	for i := 1; i < len(breaks); i++ {
		lo, hi := breaks[i-1], breaks[i]
		mid := (lo + hi) / 2
		// Within the piece the active terms are fixed: minimise Σ (base·(1−f) − want)² over them.
		num, den := 0.0, 0.0
		for q := range quantities {
			if r := base[q]*(1-mid) - want[q]; !can[q] || r > 0 {
				num += base[q] * want[q]
				den += base[q] * base[q]
			}
		}
		if den > 0 {
			try(min(max(1-num/den, lo), hi))
		}
		try(hi)
	}
	return best
}
