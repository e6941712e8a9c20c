package water

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var demineralisedWater = Ions{Cl: math.NaN(), SO4: math.NaN()}

// Factors of Standard Methods 2340 B and of the alkalinity convention, against the molar masses they derive from (IUPAC; CaCO3
// 100.087 g/mol).
func TestHardnessFactorsFollowFromMolarMasses(t *testing.T) {
	t.Parallel()
	const caCO3 = 100.087
	assert.InEpsilon(t, caCO3/molCa, caToCaCO3, 2e-4)
	assert.InEpsilon(t, caCO3/molMg, mgToCaCO3, 2e-4)
	assert.InEpsilon(t, caCO3/2/molHCO3, hco3ToCaCO3, 2e-4)
	w := Ions{Ca: 40, Mg: 10, HCO3: 122}
	assert.InDelta(t, 2.497*40+4.118*10, w.Hardness(), 1e-9)
	assert.InDelta(t, 100.05, w.Alkalinity(), 0.01)
}

// Molar masses of the salts from IUPAC atomic weights (2021): H 1.008, C 12.011, O 15.999, S 32.06, Cl 35.45.
func TestSaltMassesFollowFromAtomicWeights(t *testing.T) {
	t.Parallel()
	const h2o = 2*1.008 + 15.999
	for _, c := range []struct {
		name      string
		want, got float64
	}{
		{"CaCl2.2H2O", molCa + 2*molCl + 2*h2o, molCaCl2},
		{"MgSO4.7H2O", molMg + molSO4 + 7*h2o, molMgSO4},
		{"MgCl2.6H2O", molMg + 2*molCl + 6*h2o, molMgCl2},
		{"NaHCO3", molNa + molHCO3, molNaHCO3},
		{"KHCO3", molK + molHCO3, molKHCO3},
	} {
		assert.InEpsilon(t, c.want, c.got, 1e-4, c.name)
	}
}

// Published dosing recipes, recalculated by hand.
func TestPublishedDosingRecipes(t *testing.T) {
	t.Parallel()
	// WHO standard hard water, 342 mg/L as CaCO3: 0.304 g/L CaCl2 (anhydrous, 110.98 g/mol) and 0.139 g/L MgCl2·6H2O (from
	// memory). By hand for 10 L: 2.739 mmol/L · 147.01 = 4.03 g of CaCl2·2H2O, and 1.39 g of MgCl2·6H2O.
	d := Dose(10, demineralisedWater, Target{Hardness: 342, MgShare: 68.4 / 342}, []string{"CaCl2.2H2O", "MgCl2.6H2O"})
	require.Len(t, d.Exact, 2)
	assert.InDelta(t, 4.03, d.Exact[0].G, 0.02)
	assert.InDelta(t, 1.39, d.Exact[1].G, 0.01)
	assert.Equal(t, []Addition{{"CaCl2.2H2O", 4.0}, {"MgCl2.6H2O", 1.4}}, d.Additions)
	assert.InDelta(t, 341, d.Resulting.Hardness(), 2)

	// Moderately hard reconstituted water of the US EPA (from memory): 96 mg/L NaHCO3 for an alkalinity of 57–64.
	d = Dose(100, demineralisedWater, Target{Alkalinity: 57.2}, []string{"NaHCO3"})
	require.Len(t, d.Additions, 1)
	assert.InDelta(t, 9.6, d.Additions[0].G, 0.05)
	assert.InDelta(t, 57.2, d.Resulting.Alkalinity(), 0.3)
	assert.InDelta(t, 96*molNa/molNaHCO3, d.Resulting.Na, 0.2)
}

func TestHardSourceIsDilutedFirst(t *testing.T) {
	t.Parallel()
	// By hand: to bring an alkalinity of 240·50.04/61.02 = 196.8 to 40 takes 1 − 40/196.8 = 79.7 % demineralised water.
	hard := Ions{Ca: 80, Mg: 10, Na: 12, K: 2, HCO3: 240, Cl: math.NaN(), SO4: math.NaN()}
	d := Dose(20, hard, Target{Hardness: 85, Alkalinity: 40, MgShare: 0.3}, []string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"})
	assert.InDelta(t, 0.7968, d.DemineralisedShare, 0.0005)
	assert.True(t, d.Reachable)
	assert.InDelta(t, 85, d.ExactResult.Hardness(), 1e-6)
	assert.InDelta(t, 40, d.ExactResult.Alkalinity(), 1e-6)
	assert.InDelta(t, 25.5, d.ExactResult.MagnesiumHardness(), 1e-6)
	assert.InDelta(t, 85, d.Resulting.Hardness(), 2)
	assert.Empty(t, d.Misses(Target{Hardness: 85, Alkalinity: 40, MgShare: 0.3}))

	// Without a calcium salt the nearest water is a compromise.
	target := Target{Hardness: 85, Alkalinity: 40, MgShare: 0.3}
	d = Dose(20, hard, target, []string{"MgSO4.7H2O"})
	assert.False(t, d.Reachable)
	misses := d.Misses(target)
	require.Len(t, misses, 2)
	assert.Equal(t, CalciumHardness, misses[0].Property)
	assert.InDelta(t, 85*0.7, misses[0].Want, 1e-9)
	assert.InDelta(t, d.ExactResult.CalciumHardness(), misses[0].Got, 1e-9)
	assert.Less(t, misses[0].Got, misses[0].Want, "no salt raises it")
	assert.Equal(t, Alkalinity, misses[1].Property)
	assert.Greater(t, misses[1].Got, misses[1].Want, "more dilution would take the calcium lower still")
}

func TestDosingIsOptimal(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		mg := func(name string, most float64) float64 { return rapid.Float64Range(0, most).Draw(t, name) }
		start := Ions{Ca: mg("ca", 150), Mg: mg("mg", 50), Na: mg("na", 50), K: mg("k", 10), HCO3: mg("hco3", 400), Cl: math.NaN(), SO4: math.NaN()}
		target := Target{Hardness: mg("hardness", 200), Alkalinity: mg("alkalinity", 150), MgShare: mg("share", 1)}
		var onHand []string
		for _, s := range Salts() {
			if rapid.Bool().Draw(t, s) {
				onHand = append(onHand, s)
			}
		}
		d := Dose(1000, start, target, onHand)
		if d.DemineralisedShare < 0 || d.DemineralisedShare > 1 {
			t.Fatalf("%+v", d)
		}
		for _, a := range append(d.Exact, d.Additions...) {
			if !(a.G >= 0) || math.IsInf(a.G, 0) {
				t.Fatalf("%+v", d)
			}
		}
		for _, a := range d.Additions {
			if math.Abs(a.G*10-math.Round(a.G*10)) > 1e-9 {
				t.Fatalf("%g g is not rounded to 0.1 g", a.G)
			}
		}
		cost := d.OffCalcium*d.OffCalcium + d.OffMagnesium*d.OffMagnesium + d.OffAlkalinity*d.OffAlkalinity
		// Against a grid of demineralised shares, each with its best salts.
		want := target.wanted()
		source, _ := start.Closed()
		for f := 0.0; f <= 1; f += 0.01 {
			base := have(source.Times(1 - f))
			other := 0.0
			for q := range quantities {
				r := base[q] - want[q]
				for _, name := range onHand {
					if s, _ := saltNamed(name); s.of == q && r < 0 {
						r = 0
					}
				}
				other += r * r
			}
			if other < cost-1e-6*(1+cost) {
				t.Fatalf("with a demineralised share of %g the squared error is %g, not %g", f, other, cost)
			}
			if other <= cost+1e-18 && f < d.DemineralisedShare-0.011 {
				t.Fatalf("a demineralised share of %g is enough, not %g", f, d.DemineralisedShare)
			}
		}
	})
}

func TestUnknownAnionsCloseTheChargeBalance(t *testing.T) {
	t.Parallel()
	w := Ions{Ca: 80, Mg: 10, Na: 12, K: 2, HCO3: 240, Cl: math.NaN(), SO4: 30}
	closed, off := w.Closed()
	assert.InDelta(t, 0, off, 1e-12)
	assert.InDelta(t, 0, closed.Charge(), 1e-12)
	assert.Positive(t, closed.Cl)
	assert.InDelta(t, 30, closed.SO4, 0)

	w.Cl, w.SO4 = 10, math.NaN()
	closed, off = w.Closed()
	assert.InDelta(t, 0, off, 1e-12)
	assert.Positive(t, closed.SO4)

	// More bicarbonate than cations cannot balance.
	bad := Ions{Ca: 10, HCO3: 240, Cl: math.NaN(), SO4: math.NaN()}
	_, off = bad.Closed()
	assert.Less(t, off, -3.0)
	assert.InDelta(t, off, Imbalance(bad), 0)
	assert.Zero(t, Imbalance(w))
	assert.Positive(t, Imbalance(Ions{Ca: 80, Cl: 1, SO4: 1}), "an excess of cations")
}

func TestSmallVolumesCannotBeDosedTo01G(t *testing.T) {
	t.Parallel()
	target := Target{Hardness: 68, Alkalinity: 40}
	salts := []string{"CaCl2.2H2O", "NaHCO3"}
	least := Dose(1, demineralisedWater, target, salts).LeastVolume()
	assert.Greater(t, least, 1.0)
	assert.Zero(t, Dose(least, demineralisedWater, target, salts).LeastVolume())
	assert.Zero(t, Dose(50, demineralisedWater, target, salts).LeastVolume())
}

// SCA water for brewing; from memory.
func TestRangeOfBrewingWater(t *testing.T) {
	t.Parallel()
	good := Dose(100, demineralisedWater, Target{Hardness: 68, Alkalinity: 40}, []string{"CaCl2.2H2O", "NaHCO3"}).Resulting
	assert.Empty(t, Unsuitable(good), "%+v", good)
	assert.Equal(t, []Property{CalciumHardness, Alkalinity, DissolvedSolids}, Unsuitable(Ions{}))
	hard, _ := Ions{Ca: 120, Mg: 30, Na: 20, HCO3: 350, Cl: math.NaN(), SO4: 60}.Closed()
	assert.Equal(t, []Property{CalciumHardness, Alkalinity, DissolvedSolids}, Unsuitable(hard))
	assert.Equal(t, []Property{Alkalinity}, Unsuitable(good.plus(Ions{HCO3: 60, Na: 20})))
}

// Textbook example (from memory): pH 7.5, 320 mg/L solids, calcium hardness 150, alkalinity 34; pHs 8.2 at 25 °C and 7.2 at
// 82 °C.
func TestLangelierExample(t *testing.T) {
	t.Parallel()
	assert.InDelta(t, 8.2, SaturationPH(320, 25, 150, 34), 0.05)
	assert.InDelta(t, -0.7, LangelierIndex(7.5, 320, 25, 150, 34), 0.05)
	assert.InDelta(t, 7.2, SaturationPH(320, 82, 150, 34), 0.05)
	assert.InDelta(t, 0.3, LangelierIndex(7.5, 320, 82, 150, 34), 0.05)
}

func TestWaterForIceAndTreatment(t *testing.T) {
	t.Parallel()
	assert.InDelta(t, 6/0.8, IceWater(6000, 20), 1e-9)
	assert.InDelta(t, 10, Drained(10, 50), 1e-9)
	assert.InDelta(t, 30, Drained(10, 25), 1e-9)
	assert.Zero(t, Drained(10, 100))
}

func TestClearIceSoftensTheDrink(t *testing.T) {
	t.Parallel()
	w := Ions{Ca: 24, Mg: 4, HCO3: 49}
	drink := InDrink(w, 600, 400, 0.25)
	assert.InDelta(t, w.Hardness()*(0.6+0.4*0.25), drink.Hardness(), 1e-9)
	assert.InDelta(t, w.Hardness(), InDrink(w, 600, 400, 1).Hardness(), 1e-9)
}

func BenchmarkDose(b *testing.B) {
	hard := Ions{Ca: 80, Mg: 10, Na: 12, K: 2, HCO3: 240, Cl: math.NaN(), SO4: math.NaN()}
	salts := []string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"}
	for b.Loop() {
		Dose(20, hard, Target{85, 40, 0.3}, salts)
	}
}

func BenchmarkLangelierIndex(b *testing.B) {
	for b.Loop() {
		LangelierIndex(7.5, 320, 25, 150, 34)
	}
}

func TestUnknownAndDuplicateSaltsAreIgnored(t *testing.T) {
	t.Parallel()
	target := Target{Hardness: 80, Alkalinity: 40, MgShare: 0.3}
	want := Dose(20, demineralisedWater, target, []string{"MgSO4.7H2O", "KHCO3", "CaCl2.2H2O"})
	got := Dose(20, demineralisedWater, target, []string{"NaCl", "MgSO4.7H2O", "MgCl2.6H2O", "MgSO4.7H2O", "KHCO3", "NaHCO3", "CaCl2.2H2O"})
	assert.Equal(t, want, got, "the first salt on hand for each quantity")
	assert.Positive(t, got.Resulting.SO4)
	assert.Positive(t, got.Resulting.K)
	assert.Zero(t, got.Resulting.Na)
}

func TestBothAnionsUnknownIsChloride(t *testing.T) {
	t.Parallel()
	closed, off := Ions{Ca: 40.078, Cl: math.NaN(), SO4: math.NaN()}.Closed()
	assert.InDelta(t, 0, off, 1e-12)
	assert.InDelta(t, 2*35.45, closed.Cl, 1e-9, "1 mmol/L of calcium takes 2 mmol/L of chloride")
	assert.Zero(t, closed.SO4)
	closed, _ = Ions{Ca: 40.078, SO4: math.NaN()}.Closed()
	assert.InDelta(t, 96.06, closed.SO4, 1e-9, "or 1 mmol/L of sulphate")
	over := Ions{Ca: 40.078, Cl: 10, SO4: 10}
	closed, off = over.Closed()
	assert.Equal(t, over, closed, "known ions are kept")
	assert.InDelta(t, 2-10/35.45-20/96.06, off, 1e-9)
}

func TestChargeBalanceTolerance(t *testing.T) {
	t.Parallel()
	// 10 meq/L of cations: 5 % of the sum of 20 less the error may be off.
	balance := func(chloride float64) float64 { return Imbalance(Ions{Na: 229.90, Cl: chloride * 35.45}) }
	assert.Zero(t, balance(10))
	assert.Zero(t, balance(9.1), "0.9 of 19.1")
	assert.Positive(t, balance(9.0), "1.0 of 19.0: too many cations")
	assert.Negative(t, balance(11.2), "too many anions")
	assert.Zero(t, Imbalance(Ions{Na: 2.299, Cl: 0.5}), "below 0.1 meq/L")
}

func TestRoundingWarningNamesAVolumeThatIsEnough(t *testing.T) {
	t.Parallel()
	target := Target{Hardness: 68, Alkalinity: 40}
	salts := []string{"CaCl2.2H2O", "NaHCO3"}
	// 0.05 g of CaCl2·2H2O is 34.0 mg/L as CaCO3 in 1 L, of NaHCO3 29.8: with a tolerance of 5 % of 68 or of 3 mg/L, 10 L.
	for v := 10.0; v < 40; v++ {
		assert.Zero(t, Dose(v, demineralisedWater, target, salts).LeastVolume(), "%g L", v)
	}
	assert.InDelta(t, 10, Dose(1, demineralisedWater, target, salts).LeastVolume(), 1e-9)
}

func TestEachPropertyOfBrewingWaterHasItsRange(t *testing.T) {
	t.Parallel()
	// Solids are padded with sodium and chloride.
	w := func(ca, mg, alkalinity, salt float64) Ions {
		return Ions{Ca: ca / caToCaCO3, Mg: mg / mgToCaCO3, HCO3: alkalinity / hco3ToCaCO3, Na: salt, Cl: salt}
	}
	for _, c := range []struct {
		name string
		w    Ions
		want int
	}{
		{"good", w(68, 20, 40, 30), 0},
		{"little calcium, total hardness in range", w(10, 45, 40, 30), 0},
		{"calcium in range, little total hardness", w(20, 0, 40, 40), 0},
		{"too soft", w(16, 30, 40, 40), 1},
		{"too hard", w(90, 90, 40, 20), 1},
		{"much calcium, total hardness in range", w(90, 80, 40, 20), 0},
		{"alkalinity at its limits", w(68, 20, 20.001, 40), 0},
		{"too little alkalinity", w(68, 20, 19, 40), 1},
		{"too much alkalinity", w(68, 20, 76, 20), 1},
		{"too few solids", w(68, 0, 40, 8), 1},
		{"too many solids", w(68, 20, 40, 105), 1},
	} {
		assert.Len(t, Unsuitable(c.w), c.want, "%s: %.1f solids, %v", c.name, c.w.Solids(), Unsuitable(c.w))
	}
}

func TestDrinkWithoutBrewOrIceIsItsWater(t *testing.T) {
	t.Parallel()
	w := Ions{Ca: 24}
	assert.Equal(t, w, InDrink(w, 0, 0, 0.5))
	assert.InDelta(t, 12, InDrink(w, 0, 100, 0.5).Ca, 1e-12)
}
