package brew

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/planner/chill"
)

// Defaults of the API for a coffee without measurements.
const (
	defaultRetainedRatio = 2.1
	defaultMaxYieldPct   = 21.8
)

func drawRecipe(t *rapid.T) Recipe {
	a := rapid.Float64Range(0.1, 5).Draw(t, "retained")
	share := rapid.Float64Range(0, 0.8).Draw(t, "share")
	return Recipe{RetainedRatio: a, IceShare: share, MaxYieldPct: rapid.Float64Range(1, 35).Draw(t, "yield"),
		Ratio: a / (1 - share) * (1.001 + rapid.Float64Range(0, 20).Draw(t, "ratio"))}
}

func TestMassBalanceCloses(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := drawRecipe(t)
		dose := math.Pow(10, rapid.Float64Range(-1, 5).Draw(t, "dose"))
		x, err := r.Extract(dose)
		if err != nil {
			t.Fatal(err)
		}
		water := r.ForDose(dose).BrewWaterG
		near := func(name string, a, b float64) {
			if math.Abs(a-b) > 1e-9*(math.Abs(a)+dose) {
				t.Fatalf("%s: %g and %g", name, a, b)
			}
		}
		near("dose", dose, x.SpentG+x.DissolvedG)
		near("water", water+x.DissolvedG, x.BeverageG+x.RetainedG)
		near("yield", x.YieldPct, MeasuredYield(dose, x.BeverageG, x.TDSPct))
		near("liquid", LiquidFrom(water, x.TDSPct), x.LiquidG)
		if x.YieldPct <= 0 || x.YieldPct >= r.MaxYieldPct || x.BeverageG <= 0 {
			t.Fatalf("%+v gives %+v", r, x)
		}
		back := r.ForBeverage(r.ForDose(dose).BeverageG)
		near("scaling", dose, back.DoseG)
		near("finished", back.BeverageG, x.BeverageG+back.IceG)
	})
}

func TestMoreWaterRaisesYieldAndLowersStrength(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0.1, 5).Draw(t, "retained")
		s := rapid.Float64Range(1, 35).Draw(t, "yield")
		w := a * (1.01 + rapid.Float64Range(0, 20).Draw(t, "water"))
		x, err := Extract(1, w, a, s)
		y, err2 := Extract(1, w*1.1, a, s)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		if y.YieldPct <= x.YieldPct || y.TDSPct >= x.TDSPct {
			t.Fatalf("%+v, with more water %+v", x, y)
		}
	})
}

func TestTooLittleWaterIsRejected(t *testing.T) {
	t.Parallel()
	for _, w := range []float64{-1, 0, 41, 42, math.NaN()} {
		_, err := Extract(20, w, 2.1, 21.8)
		assert.ErrorIs(t, err, ErrTooLittleWater, "%g g", w)
	}
	_, err := Extract(0, 10, 2.1, 21.8)
	assert.ErrorIs(t, err, ErrTooLittleWater)
	assert.ErrorIs(t, Recipe{Ratio: 2.5, IceShare: 0.2, RetainedRatio: 2.1, MaxYieldPct: 21.8}.Check(), ErrTooLittleWater)
}

func TestRatioForMeetsTheStrength(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := drawRecipe(t)
		want := rapid.Float64Range(0.2, 12).Draw(t, "tds")
		ratio, strongest, ok := RatioFor(want, r.IceShare, r.RetainedRatio, r.MaxYieldPct)
		if !ok {
			if want < strongest*(1-1e-9) {
				t.Fatalf("%g %% rejected although %g %% is possible", want, strongest)
			}
			return
		}
		r.Ratio = ratio
		if r.Check() != nil || math.Abs(r.FinalTDSPct()-want) > 1e-9*want {
			t.Fatalf("1:%g gives %g %%, not %g %%", ratio, r.FinalTDSPct(), want)
		}
		if want > strongest {
			t.Fatalf("%g %% is above the strongest, %g %%", want, strongest)
		}
		// On the branch of the larger root a little more water weakens it.
		r.Ratio = ratio * 1.001
		if r.FinalTDSPct() > want {
			t.Fatalf("more water than 1:%g makes it stronger", ratio)
		}
	})
}

// Common practice, no source.
func TestIcedRecipesMatchCommonPractice(t *testing.T) {
	t.Parallel()
	// 20 g in 240 g, then 60 g of ice: 1.3–1.4 %.
	x, err := Extract(20, 240, defaultRetainedRatio, defaultMaxYieldPct)
	require.NoError(t, err)
	final := diluted(x.TDSPct, x.BeverageG, 60)
	t.Logf("20 g in 240 g, 60 g of ice: %.2f %%", final)
	assert.True(t, final >= 1.3 && final <= 1.4, "%g", final)
	// Grounds retain about twice their weight.
	assert.InDelta(t, 2, x.RetainedG/20, 0.15)
	// At 1:12 a coffee of average solubility does not reach 20 %.
	assert.Less(t, x.YieldPct, 20.0)
	// Brewing over ice takes 35–40 % of the water as ice: enough to go straight from 80–85 °C to 7–10 °C.
	r := Recipe{Ratio: 15, RetainedRatio: defaultRetainedRatio, MaxYieldPct: defaultMaxYieldPct}
	for _, c := range []struct{ out, target float64 }{{80, 7}, {80, 10}, {85, 10}} {
		share := r.shareFor(c.out, -10, 0, c.target)
		t.Logf("%g °C straight to %g °C: %.1f %% ice", c.out, c.target, 100*share)
		assert.True(t, share > 0.35 && share < 0.41, "%g", share)
	}
	// Ice stirred in later, 15–25 %: enough for a brew that has cooled to 30–40 °C to reach 7 °C.
	for _, out := range []float64{30, 40} {
		share := r.shareFor(out, -5, 0, 7)
		t.Logf("%g °C to 7 °C: %.1f %% ice", out, 100*share)
		assert.True(t, share > 0.15 && share < 0.25, "%g °C: %g", out, share)
	}
}

// SCA brewing chart, after Lockhart 1957; from memory: 55 g/L lies near 1.15–1.35 % and 18–22 %.
func TestChartBrewIsInTheChartsRange(t *testing.T) {
	t.Parallel()
	x, err := Extract(55, 1000, defaultRetainedRatio, defaultMaxYieldPct)
	require.NoError(t, err)
	assert.True(t, x.TDSPct >= 1.15 && x.TDSPct <= 1.35, "%g %%", x.TDSPct)
	assert.True(t, x.YieldPct >= ChartYieldLow && x.YieldPct <= ChartYieldHigh, "%g %%", x.YieldPct)
	assert.Equal(t, YieldInChart, PositionOf(x.YieldPct))
	assert.Equal(t, YieldInChart, PositionOf(17.96), "reads 18.0")
	assert.Equal(t, YieldBelowChart, PositionOf(16.8))
	assert.Equal(t, YieldAboveChart, PositionOf(23))
}

func TestNeededShareReachesTheTargetWithoutPrecooling(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		r := drawRecipe(t)
		r.Ratio = rapid.Float64Range(5, 25).Draw(t, "ratio2")
		r.IceShare = rapid.Float64Range(0, 0.6).Draw(t, "share2")
		r.RetainedRatio = rapid.Float64Range(1, 1.9).Draw(t, "retained2")
		out, iceC := rapid.Float64Range(20, 100).Draw(t, "out"), rapid.Float64Range(-40, 0).Draw(t, "ice")
		wet, target := rapid.Float64Range(0, 0.4).Draw(t, "wet"), rapid.Float64Range(1, 60).Draw(t, "target")
		s, err := r.SplitIce(60, out, iceC, wet, target)
		if err != nil {
			t.Fatal(err)
		}
		if s.PrecoolC > out || (out > target && s.PrecoolC < target-1e-9) || s.NeedsPrecool != (s.PrecoolC < out) {
			t.Fatalf("%+v", s)
		}
		if s.NeedsPrecool && math.Abs(s.AfterPrecool.FinalC-target) > 1e-6 {
			t.Fatalf("after pre-cooling it is at %g °C, not %g °C", s.AfterPrecool.FinalC, target)
		}
		if math.IsNaN(s.ShareNeeded) || s.ShareNeeded == 0 {
			return
		}
		r.IceShare = s.ShareNeeded
		x, err := r.SplitIce(60, out, iceC, wet, target)
		if err != nil || math.Abs(x.AtOnce.FinalC-target) > 1e-6 {
			t.Fatalf("with an ice share of %g it is at %g °C, not %g °C (%v)", r.IceShare, x.AtOnce.FinalC, target, err)
		}
	})
}

func TestFitRecoversTheParameters(t *testing.T) {
	t.Parallel()
	var brews []Measured
	for i, w := range []float64{180, 200, 240, 300} {
		x, err := Extract(20, w, 1.9, 23)
		require.NoError(t, err)
		noise := []float64{1.01, 0.99, 1.005, 0.995}[i]
		brews = append(brews, Measured{DoseG: 20, WaterG: w, BeverageG: x.BeverageG * (2 - noise), TDSPct: x.TDSPct * noise})
	}
	f, err := Fit(brews)
	require.NoError(t, err)
	assert.InDelta(t, 23, f.MaxYieldPct.Value, f.MaxYieldPct.HalfWidth95)
	assert.InDelta(t, 1.9, f.RetainedRatio.Value, f.RetainedRatio.HalfWidth95)
	assert.Positive(t, f.MaxYieldPct.SE)
	assert.InEpsilon(t, 3.182446, f.MaxYieldPct.HalfWidth95/f.MaxYieldPct.SE, 1e-4, "Student's t, 3 degrees of freedom, 97.5 %")

	for i := range brews {
		x, _ := Extract(20, brews[i].WaterG, 1.9, 23)
		brews[i].BeverageG, brews[i].TDSPct = x.BeverageG, x.TDSPct
	}
	f, err = Fit(brews)
	require.NoError(t, err)
	assert.InDelta(t, 23, f.MaxYieldPct.Value, 1e-9, "exact without noise")
	assert.InDelta(t, 1.9, f.RetainedRatio.Value, 1e-9)
}

func TestFitRejectsImpossibleBrews(t *testing.T) {
	t.Parallel()
	good := Measured{20, 240, 200, 1.8}
	_, err := Fit([]Measured{good})
	assert.ErrorIs(t, err, ErrTooFewBrews)
	for _, bad := range []Measured{{20, 240, 300, 1.8}, {20, 240, 200, 40}, {0, 240, 200, 1.8}, {20, 240, 200, math.NaN()}} {
		_, err := Fit([]Measured{good, bad})
		var b *BrewError
		require.ErrorAs(t, err, &b, "%+v", bad)
		assert.Equal(t, 1, b.Index)
	}
}

// boiling.csv: IAPWS-97 at the pressure of the standard atmosphere.
func TestBoilingPoints(t *testing.T) {
	t.Parallel()
	f, err := os.Open("../../testdata/checks/boiling.csv")
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	worst := 0.0
	for _, row := range rows[1:] {
		var x [3]float64
		for i := range x {
			x[i], err = strconv.ParseFloat(row[i], 64)
			require.NoError(t, err)
		}
		assert.InDelta(t, x[1], airPressure(x[0]), 0.01)
		assert.InDelta(t, x[2], BoilingPoint(x[0]), 0.05)
		worst = max(worst, math.Abs(BoilingPoint(x[0])-x[2]))
	}
	t.Logf("largest error %.4f °C", worst)
}

func TestBrewerLimitsBoundTheBatch(t *testing.T) {
	t.Parallel()
	r := Recipe{Ratio: 14.6, IceShare: 0.2, RetainedRatio: 2.1, MaxYieldPct: 21.8}
	per := r.FinishedPerDose()
	g, by := r.LargestBatch(Limits{MaxDoseG: 200, MaxWaterG: 5000, MaxBeverageG: 4000})
	assert.Equal(t, ByDose, by)
	assert.InDelta(t, 200*per, g, 1e-9)
	g, by = r.LargestBatch(Limits{MaxDoseG: 200, MaxWaterG: 1168, MaxBeverageG: 4000})
	assert.Equal(t, ByWater, by)
	assert.InDelta(t, 100*per, g, 1e-9)
	_, by = r.LargestBatch(Limits{})
	assert.Equal(t, Unbounded, by)

	n, each, ok := r.Runs(9000, Limits{MaxBeverageG: 4000, MinBeverageG: 1000})
	assert.True(t, ok)
	assert.Equal(t, 3, n)
	assert.InDelta(t, 3000, each, 1e-9)
	n, each, ok = r.Runs(500, Limits{MaxBeverageG: 4000, MinBeverageG: 1000})
	assert.False(t, ok)
	assert.Equal(t, 1, n)
	assert.InDelta(t, 1000, each, 0)
}

func TestDoubtfulOutsideTheModelsRange(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		steeped  bool
		ratio    float64
		doubtful bool
	}{{false, 8, false}, {false, 17, false}, {false, 7.5, true}, {false, 18, true}, {true, 5, false}} {
		assert.Equal(t, c.doubtful, Doubtful(c.steeped, c.ratio), "%+v", c)
	}
}

func TestCaffeineOfAServing(t *testing.T) {
	t.Parallel()
	x, err := Extract(60, 700, 2.1, 21.8)
	require.NoError(t, err)
	// A quarter of 60 g · 12 mg/g, less the part in the retained liquid.
	finished := x.BeverageG + 175
	mg := x.CaffeineMg(finished, finished/4)
	assert.InDelta(t, 60*12*x.BeverageG/x.LiquidG/4, mg, 1e-9)
}

func TestAmpleIceNeedsNoPrecooling(t *testing.T) {
	t.Parallel()
	// It reaches the target with ice to spare.
	r := Recipe{Ratio: 15, IceShare: 0.6, RetainedRatio: 2.1, MaxYieldPct: 21.8}
	s, err := r.SplitIce(20, 85, -12, 0, 5)
	require.NoError(t, err)
	assert.False(t, s.NeedsPrecool)
	assert.InDelta(t, 85, s.PrecoolC, 0)
	assert.Equal(t, chill.IceLeft, s.AtOnce.Regime)
	assert.Positive(t, s.AtOnce.IceLeftG)
}

func BenchmarkExtract(b *testing.B) {
	for b.Loop() {
		_, _ = Extract(20, 240, 2.1, 21.8)
	}
}

func BenchmarkSplitIce(b *testing.B) {
	r := Recipe{Ratio: 14.6, IceShare: 0.2, RetainedRatio: 2.1, MaxYieldPct: 21.8}
	for b.Loop() {
		_, _ = r.SplitIce(60, 80, -10, 0, 7)
	}
}

func BenchmarkFit(b *testing.B) {
	brews := []Measured{{20, 180, 144, 2.36}, {20, 240, 201, 1.79}, {20, 300, 260, 1.45}}
	for b.Loop() {
		_, _ = Fit(brews)
	}
}

func TestNoShareIfItLeavesTooLittleWater(t *testing.T) {
	t.Parallel()
	// At 1:2.15 the grounds retain 2.1, so at most 2 % can be ice; 7 % would be needed.
	assert.True(t, math.IsNaN(Recipe{Ratio: 2.15, RetainedRatio: 2.1, MaxYieldPct: 21.8}.shareFor(98, 0, 0, 1)))
}

func TestImpossibleBrewsGiveZeroOrAnError(t *testing.T) {
	t.Parallel()
	dry := Recipe{Ratio: 2, RetainedRatio: 2.1, MaxYieldPct: 21.8}
	assert.Zero(t, dry.FinalTDSPct())
	_, err := dry.SplitIce(20, 85, -12, 0, 5)
	assert.ErrorIs(t, err, ErrTooLittleWater)
	assert.Zero(t, MeasuredYield(0, 200, 1.8))
	assert.Zero(t, Extraction{}.CaffeineMg(100, 50))
	x, err := Extract(20, 240, 2.1, 21.8)
	require.NoError(t, err)
	assert.Zero(t, x.CaffeineMg(0, 50))
	n, each, ok := dry.Runs(0, Limits{MinBeverageG: 100})
	assert.True(t, ok, "no beverage takes no batch")
	assert.Zero(t, n)
	assert.Zero(t, each)
}

func TestRunsUpToTheLargestBatch(t *testing.T) {
	t.Parallel()
	r := Recipe{Ratio: 14.6, IceShare: 0.2, RetainedRatio: 2.1, MaxYieldPct: 21.8}
	for _, c := range []struct {
		beverage float64
		n        int
	}{{1, 1}, {4000, 1}, {4001, 2}, {8000, 2}, {8001, 3}} {
		n, each, ok := r.Runs(c.beverage, Limits{MaxBeverageG: 4000})
		assert.True(t, ok)
		assert.Equal(t, c.n, n, "%g g", c.beverage)
		assert.InDelta(t, c.beverage/float64(c.n), each, 1e-9)
	}
	n, each, ok := r.Runs(50000, Limits{})
	assert.True(t, ok)
	assert.Equal(t, 1, n, "without limits")
	assert.InDelta(t, 50000, each, 0)
	n, _, ok = r.Runs(1000, Limits{MaxBeverageG: 4000, MinBeverageG: 1000})
	assert.True(t, ok, "the minimum itself is allowed")
	assert.Equal(t, 1, n)
}

func TestRatioForHasALimit(t *testing.T) {
	t.Parallel()
	_, strongest, ok := RatioFor(20, 0.3, 2.1, 21.8)
	assert.False(t, ok)
	ratio, again, ok := RatioFor(strongest*0.999, 0.3, 2.1, 21.8)
	require.True(t, ok, "just below the strongest possible, %g %%", strongest)
	assert.InDelta(t, strongest, again, 1e-12)
	assert.InDelta(t, strongest*0.999, Recipe{Ratio: ratio, IceShare: 0.3, RetainedRatio: 2.1, MaxYieldPct: 21.8}.FinalTDSPct(), 1e-9)
	_, _, ok = RatioFor(strongest*1.001, 0.3, 2.1, 21.8)
	assert.False(t, ok)
	_, _, ok = RatioFor(0, 0.3, 2.1, 21.8)
	assert.False(t, ok)
	// Without ice it is the inverse of S/(R + S): 1.5 % at 1:14.315.
	ratio, _, ok = RatioFor(1.5, 0, 2.1, 21.8)
	require.True(t, ok)
	assert.InDelta(t, 0.218/0.015-0.218, ratio, 1e-9)
}

func TestFitOfTwoBrewsByHand(t *testing.T) {
	t.Parallel()
	// M = W/(1 − TDS) is 200 and 300 g, so S is 20 and 24 %, A is 2 and 3.
	f, err := Fit([]Measured{{20, 196, 160, 2}, {10, 297.6, 270, 0.8}})
	require.NoError(t, err)
	assert.Equal(t, 2, f.Brews)
	assert.InDelta(t, 22, f.MaxYieldPct.Value, 1e-9)
	assert.InDelta(t, 2, f.MaxYieldPct.SE, 1e-9, "standard deviation 2·√2 over √2")
	assert.InDelta(t, 2.5, f.RetainedRatio.Value, 1e-9)
	assert.InDelta(t, 0.5*12.7062047, f.RetainedRatio.HalfWidth95, 1e-5, "Student's t, 1 degree of freedom")
	// All of the dose dissolved and nothing retained are the limits of what is possible.
	_, err = Fit([]Measured{{10, 90, 100, 10}, {10, 90, 100, 10}})
	assert.NoError(t, err)
}
