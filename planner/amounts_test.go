package planner

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
	"hotday/planner/brew"
)

// steps reports whether g is a whole number of steps.
func wholeSteps(g, step float64) bool { return math.Abs(g/step-math.Round(g/step)) < 1e-6 }

// anyKitchen draws a recipe and a brewer that may list sizes.
func anyKitchen(t *rapid.T) (models.Beverage, models.Brewer, models.Site) {
	b := models.Beverage{Code: "b", Method: oneOf(t, "method", models.Flash, models.Steeped, models.HotChilled), Ratio: number(t, "ratio", 7, 20),
		RetainedRatio: number(t, "retained", 1.5, 2.6), MaxYieldPct: number(t, "yield", 18, 26), BrewerOutTempC: number(t, "out", 70, 98),
		Bath: chance(t, "bath", 2), TargetTempC: number(t, "target", 1, 8), HoldH: 12}
	if b.Method == models.Flash {
		b.IceShare = oneOf(t, "ice share", 0.1, 0.25, 0.33, 0.45)
	}
	if b.Method == models.Steeped {
		h := 12.0
		b.SteepH, b.SteepTempC = &h, 5
	}
	w := models.Brewer{Code: "w", MinBeverageG: oneOf(t, "min", 500.0, 800, 1500), MaxBeverageG: oneOf(t, "max", 2000.0, 6000, 26000), BusyMin: 12}
	if chance(t, "basket", 3) {
		g := number(t, "dose", 120, 900)
		w.MaxDoseG = &g
	}
	if chance(t, "vessel", 3) {
		g := number(t, "water", 1500, 9000)
		w.MaxWaterG = &g
	}
	if chance(t, "listed", 2) {
		w.SizesG = []float64{w.MaxBeverageG, w.MaxBeverageG / 2}
	}
	site := models.Site{ScaleG: oneOf(t, "scale", 1.0, 0, 0.1), StoreTempC: 5}
	if chance(t, "ounces", 3) {
		site.Units = &models.Units{Mass: models.OuncesPounds}
	}
	return b, w, site
}

// A rounded batch is still the recipe: ratio, strength and temperature; and it fits vessel and basket.
func TestRoundedBatchesKeepTheRecipe(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		b, w, site := anyKitchen(t)
		if b.Ratio*(1-b.IceShare) <= b.RetainedRatio*1.2 {
			t.Skip("the grounds keep all the water")
		}
		rc := newRecipe(&b, &site, -5, 0.1)
		exact := brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}
		step := max(site.ScaleG, 0.1)
		if site.ScaleG == 0 {
			step = 1
		}
		if site.Units != nil {
			step = 28.349523125 / 100
		}
		last := 0.0
		for _, a := range rc.sizes(&w) {
			require.InDelta(t, 1, (a.waterG+a.iceG)/a.doseG/b.Ratio, 0.01, "ratio of %+v", a)
			require.InDelta(t, exact.FinalTDSPct(), a.after.FinalTDSPct, 0.02+1e-9+math.Abs(exact.FinalTDSPct()-rc.after.FinalTDSPct), "strength of %+v", a)
			require.InDelta(t, rc.after.FinalC, a.after.FinalC, 0.5, "temperature of %+v", a)
			require.InDelta(t, a.waterG+a.iceG+a.doseG*b.MaxYieldPct/100-a.doseG*b.RetainedRatio, a.g, 1e-6, "the batch is the sum of its parts")
			require.LessOrEqual(t, a.g, w.MaxBeverageG+1e-6)
			require.GreaterOrEqual(t, a.g, w.MinBeverageG-step*b.Ratio, "smallest and largest may be closer than a step of the dose")
			require.True(t, w.MaxDoseG == nil || a.doseG <= *w.MaxDoseG+1e-6, "%+v overfills the basket", a)
			require.True(t, w.MaxWaterG == nil || a.waterG <= *w.MaxWaterG+1e-6, "%+v overfills the vessel", a)
			for _, g := range []float64{a.doseG, a.waterG, a.iceG} {
				require.True(t, wholeSteps(g, step), "%g g cannot be weighed in steps of %g g", g, step)
			}
			require.Greater(t, a.g, last, "sizes ascend")
			last = a.g
		}
	})
}

// The full batch of a sheet is what people would weigh: 5 g of coffee, 50 g of water, 10 g of ice; half of it likewise.
func TestFullAndHalfBatch(t *testing.T) {
	t.Parallel()
	b := models.Beverage{Code: "flash", Method: models.Flash, Ratio: 15, IceShare: 0.25, RetainedRatio: 2.1, MaxYieldPct: 21.8, BrewerOutTempC: 84, Bath: true, TargetTempC: 5, HoldH: 8}
	w := models.Brewer{Code: "left", MaxBeverageG: 6000, BusyMin: 30, SizesG: []float64{6000, 3000, 20000}}
	rc := newRecipe(&b, &models.Site{}, -5, 0)
	sizes := rc.sizes(&w)
	require.Len(t, sizes, 2, "20 kg does not fit")
	half, full := sizes[0], sizes[1]
	require.Equal(t, []float64{455, 5100, 1710}, []float64{full.doseG, full.waterG, full.iceG})
	require.Equal(t, []float64{230, 2590, 865}, []float64{half.doseG, half.waterG, half.iceG})
	require.InDelta(t, 6000, full.g, 50)
	require.InDelta(t, 3000, half.g, 50)
}

func TestSizesOfABrewer(t *testing.T) {
	t.Parallel()
	b := models.Beverage{Code: "cold", Method: models.HotChilled, Ratio: 16, RetainedRatio: 2.1, MaxYieldPct: 21.8, BrewerOutTempC: 84, Bath: true, TargetTempC: 5, HoldH: 8}
	rc := newRecipe(&b, &models.Site{}, -5, 0)
	dose := 100.0
	for _, c := range []struct {
		name    string
		w       models.Brewer
		n       int
		largest float64
	}{
		{"multiples of 100 g", models.Brewer{MinBeverageG: 1000, MaxBeverageG: 2000}, 11, 2000},
		{"a basket for less than the vessel", models.Brewer{MinBeverageG: 1000, MaxBeverageG: 2000, MaxDoseG: &dose}, 5, 1400},
		{"too small for 100 g", models.Brewer{MaxBeverageG: 80}, 1, 80},
		{"one size only", models.Brewer{MinBeverageG: 1500, MaxBeverageG: 1500}, 1, 1500},
		{"no size fits the basket", models.Brewer{MaxBeverageG: 4000, MaxDoseG: &dose, SizesG: []float64{2000, 4000}}, 0, 0},
		{"every size below the smallest batch", models.Brewer{MinBeverageG: 3000, MaxBeverageG: 4000, SizesG: []float64{2000}}, 0, 0},
	} {
		sizes := rc.sizes(&c.w)
		require.Len(t, sizes, c.n, c.name)
		if c.n > 0 {
			require.InDelta(t, c.largest, sizes[c.n-1].g, 14, c.name)
		}
	}
}
