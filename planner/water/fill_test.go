package water

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// cafe is tap water, target and salts of the weekend request.
func cafe() (Ions, Target, []string) {
	return Ions{Ca: 92, Mg: 14, Na: 11, K: 3, HCO3: 280, Cl: math.NaN(), SO4: math.NaN()}, Target{Hardness: 68, Alkalinity: 40, MgShare: 0.3},
		[]string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"}
}

// By hand: the tap's alkalinity is 280·50.04/61.02 = 229.6 mg/L as CaCO3, of which 40 stay in 17.4 % tap water: 16.5 L + 3.5 L, and no
// hydrogen carbonate is needed. The blend has 92·0.1742·2.497 = 40.0 of the 47.6 calcium hardness and 14·0.1742·4.118 = 10.0 of the
// 20.4 magnesium hardness. 7.6 mg/L are 7.6/2.497/272.6 = 11.1 mg of CaCl2·2H2O (272.6 mg Ca per g) in a litre, 10.4 are
// 10.4/4.118/98.6 = 25.5 mg of MgSO4·7H2O (98.6 mg Mg per g): 22 and 51 g in a litre of concentrate dosed at 0.5 mL/L.
func TestTwentyLitresByHand(t *testing.T) {
	t.Parallel()
	start, target, salts := cafe()
	r := RecipeFor(start, target, salts, 20)
	assert.InDelta(t, 16.5, r.TankL(20, 20), 1e-9)
	require.Len(t, r.Concentrates, 2)
	a, b := r.Concentrates[0], r.Concentrates[1]
	assert.Equal(t, "A", a.Code)
	assert.InDelta(t, 10, a.ML(20), 1e-9)
	assert.InDelta(t, 10, b.ML(20), 1e-9)
	require.Len(t, a.Salts, 1)
	assert.Equal(t, "CaCl2.2H2O", a.Salts[0].Salt)
	assert.InDelta(t, 22.3, a.Salts[0].G, 0.3)
	assert.Equal(t, "MgSO4.7H2O", b.Salts[0].Salt)
	assert.InDelta(t, 51, b.Salts[0].G, 1)
	m := a.Mix(150)
	assert.InDelta(t, 250, m.MakesML, 0)
	assert.InDelta(t, 200, m.WaterML, 0)
	assert.InDelta(t, 5.6, m.Salts[0].G, 0.05+1e-9)
	got := r.Result(20)
	assert.InDelta(t, 68, got.Hardness(), 1)
	assert.InDelta(t, 40, got.Alkalinity(), 1)
}

// What a person measures, rounded, still meets the target, for every fill from a litre up, and stays dissolved in the fridge.
func TestTheRoundedRecipeMeetsTheTarget(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		start := Ions{Ca: rapid.Float64Range(0, 150).Draw(t, "ca"), Mg: rapid.Float64Range(0, 40).Draw(t, "mg"), Na: 10, K: 2,
			HCO3: rapid.Float64Range(0, 400).Draw(t, "hco3"), Cl: math.NaN(), SO4: math.NaN()}
		target := Target{Hardness: rapid.Float64Range(20, 150).Draw(t, "hardness"), Alkalinity: rapid.Float64Range(10, 80).Draw(t, "alkalinity"),
			MgShare: rapid.SampledFrom([]float64{0, 0.3, 1}).Draw(t, "mg share")}
		salts := []string{"CaCl2.2H2O", rapid.SampledFrom([]string{"MgSO4.7H2O", "MgCl2.6H2O"}).Draw(t, "mg salt"), rapid.SampledFrom([]string{"NaHCO3", "KHCO3"}).Draw(t, "alkaline")}
		size := rapid.SampledFrom([]float64{0, 5, 10, 18.9, 20, 30}).Draw(t, "size")
		exact := Dose(100, start, target, salts).ExactResult
		r := RecipeFor(start, target, salts, size)
		for _, v := range []float64{max(size, 1), 7, 12} {
			got := r.Result(v)
			allowed := func(want float64) float64 { return max(4, 0.06*want) }
			if math.Abs(got.Hardness()-exact.Hardness()) > allowed(exact.Hardness()) || math.Abs(got.Alkalinity()-exact.Alkalinity()) > allowed(exact.Alkalinity()) {
				t.Fatalf("%g L: hardness %.1f instead of %.1f, alkalinity %.1f instead of %.1f (%+v)", v, got.Hardness(), exact.Hardness(), got.Alkalinity(), exact.Alkalinity(), r.Concentrates)
			}
		}
		for _, c := range r.Concentrates {
			kinds := map[string]bool{}
			for _, a := range c.Salts {
				if a.G > MostDissolved(a.Salt)/2+1e-9 {
					t.Fatalf("%g g of %s in a litre", a.G, a.Salt)
				}
				kinds[a.Salt] = true
			}
			if kinds["CaCl2.2H2O"] && (kinds["MgSO4.7H2O"] || kinds["NaHCO3"] || kinds["KHCO3"]) {
				t.Fatalf("calcium beside %v", kinds)
			}
		}
	})
}

// Mass of the anhydrous salt in 100 g of water at 0 °C, from memory of other tables than the one in the code: CaCl2 59.5, MgSO4 22 to 26,
// MgCl2 52.9, NaHCO3 6.9, KHCO3 22.5. A litre of saturated solution holds at least the share of a kilogram.
func TestSolubilityIsOnTheSafeSide(t *testing.T) {
	t.Parallel()
	for salt, in100 := range map[string]float64{"CaCl2.2H2O": 59.5 * 147.01 / 110.98, "MgSO4.7H2O": 26 * 246.47 / 120.37, "MgCl2.6H2O": 52.9 * 203.30 / 95.21, "NaHCO3": 6.9, "KHCO3": 22.5} {
		anhydrous := in100 / (soluble[salt].hydrate / soluble[salt].anhydrous)
		perKg := anhydrous / (100 + anhydrous) * 1000 * soluble[salt].hydrate / soluble[salt].anhydrous
		assert.LessOrEqual(t, MostDissolved(salt), perKg*1.05, salt)
		assert.Greater(t, MostDissolved(salt), perKg*0.75, salt)
	}
}

func TestNoSaltsNoConcentrate(t *testing.T) {
	t.Parallel()
	start, target, _ := cafe()
	r := RecipeFor(start, target, nil, 20)
	assert.Empty(t, r.Concentrates)
	assert.Less(t, r.TankL(20, 20), 20.0, "still diluted")
	soft := RecipeFor(Ions{Ca: 5, HCO3: 12, Cl: math.NaN(), SO4: math.NaN()}, target, []string{"NaHCO3"}, 20)
	assert.InDelta(t, 20, soft.TankL(20, 20), 0, "the tank holds the source, nothing is blended")
}

func flat(n int, x float64) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = x
	}
	return out
}

func fills(n int, size float64) Fills {
	start, target, salts := cafe()
	f := Fills{Recipe: RecipeFor(start, target, salts, size), SizeL: size, FillMin: 5, SlotMin: 15, RoomMin: flat(n, 600), KeepSlots: 96}
	for t := range n {
		f.Until = append(f.Until, t+4)
	}
	return f
}

func TestFillsComeBeforeTheirUseAndCarryOver(t *testing.T) {
	t.Parallel()
	k := Tank{Opening: 100, Size: 100, Make: flat(20, 2), Taken: flat(20, 0)}
	use := make([]float64, 20)
	use[5], use[6], use[12] = 8, 8, 10
	got := k.Fill(use, fills(20, 20))
	assert.Equal(t, []float64{20, 6}, positive(got.Volume), "the second fill holds what is still needed: 4 L were left of the first")
	assert.InDelta(t, 20, got.Volume[4], 0, "in the slot before")
	assert.InDelta(t, 6, got.Volume[11], 0)
	assert.InDelta(t, 16.5, got.Drawn[4], 1e-9)
	assert.Zero(t, sum(got.Lack))

	f := fills(20, 20)
	for s := range 5 {
		f.RoomMin[s] = 0 // nobody is there before the first use
	}
	got = k.Fill(use, f)
	assert.InDelta(t, 8, got.Lack[5], 1e-9, "nobody could fill for it")
	assert.Zero(t, got.Lack[6])

	f = fills(20, 20)
	f.CarriedL = 26
	assert.Empty(t, positive(k.Fill(use, f).Volume), "water left in containers is used first")
}

func TestATankTooSmallAtOnceIsDrawnEarlier(t *testing.T) {
	t.Parallel()
	k := Tank{Opening: 20, Size: 20, Make: flat(40, 2), Taken: flat(40, 0)}
	use := make([]float64, 40)
	use[30] = 60 // 49.5 L of it from the tank
	got := k.Fill(use, fills(40, 20))
	assert.Zero(t, sum(got.Lack))
	assert.InDelta(t, 60, sum(got.Volume), 0)
	for s := range got.Drawn {
		assert.LessOrEqual(t, got.Drawn[s], got.Run.Before[s]+1e-9)
	}
	use[30] = 600
	got = k.Fill(use, fills(40, 20))
	assert.Greater(t, sum(got.Lack), 400.0)
}

// Whatever is needed, no fill exceeds the tank, none comes after its use or when nobody is there, and what is used was filled. What the
// tank can give at most bounds what is drawn, and where much is missing, most of it is.
func TestFillsKeepToTheTank(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := 60
		size := rapid.SampledFrom([]float64{0, 10, 20}).Draw(t, "size")
		k := Tank{Size: rapid.SampledFrom([]float64{15, 60, 120}).Draw(t, "tank"), Make: flat(n, rapid.Float64Range(0, 4).Draw(t, "make")), Taken: flat(n, rapid.Float64Range(0, 1).Draw(t, "taken"))}
		k.Opening = k.Size * rapid.Float64Range(0, 1).Draw(t, "opening")
		use := make([]float64, n)
		for range rapid.IntRange(0, 12).Draw(t, "uses") {
			use[rapid.IntRange(0, n-1).Draw(t, "slot")] += rapid.Float64Range(0.2, 30).Draw(t, "l")
		}
		f := fills(n, size)
		may := make([]bool, n)
		for s := range n {
			if may[s] = s%30 >= 8; !may[s] {
				f.RoomMin[s] = 0
			}
		}
		f.CarriedL = rapid.Float64Range(0, 10).Draw(t, "carried")
		got := k.Fill(use, f)
		stock, drawn := f.CarriedL, 0.0
		most := k.Available(may)
		for s := range n {
			if got.Volume[s] > 0 && !may[s] {
				t.Fatalf("filled in slot %d when nobody is there", s)
			}
			if got.Drawn[s] > got.Run.Before[s]+1e-6 {
				t.Fatalf("slot %d: %g L drawn of %g", s, got.Drawn[s], got.Run.Before[s])
			}
			if drawn += got.Drawn[s]; drawn > most[s]+1e-6 {
				t.Fatalf("slot %d: %g L drawn, at most %g", s, drawn, most[s])
			}
			if stock += -use[s] + got.Lack[s]; stock < -1e-5 {
				t.Fatalf("slot %d: %g L missing that nobody filled", s, -stock)
			}
			stock += got.Volume[s] // there from the next slot on
			if got.Run.Lack[s] > k.Run(make([]float64, n)).Lack[s]+1e-6 {
				t.Fatalf("slot %d: fills leave too little for what is taken straight from the tank", s)
			}
		}
	})
}

func positive(xs []float64) []float64 {
	var out []float64
	for _, x := range xs {
		if x > 0 {
			out = append(out, x)
		}
	}
	return out
}

func sum(xs []float64) float64 {
	s := 0.0
	for _, x := range xs {
		s += x
	}
	return s
}
