package risk

import (
	"context"
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/planner/demand"
)

func flat(n int) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = 1 / float64(n)
	}
	return s
}

func simulate(t interface {
	Errorf(string, ...any)
	FailNow()
}, in Input, n int) Result {
	r, err := Simulate(context.Background(), in, 1, n)
	require.NoError(t, err)
	return r
}

// oneDrink is one drink, 100 g of one beverage, with one day part of four slots.
func oneDrink(mean, lotG float64) Input {
	return Input{
		Slots:  8,
		Drinks: []Drink{{Stocks: []Take{{0, 100}}}},
		Rows:   []Row{{Key: "a", Range: demand.Guess(mean), Slot: 2, Share: flat(4)}},
		Stocks: []Stock{{Lots: []Lot{{G: lotG, Until: 8}}}},
		Assume: DefaultAssumptions(),
	}
}

func TestChanceIsThatOfDemandAboveTheStock(t *testing.T) {
	t.Parallel()
	d := demand.NegativeBinomial{Mean: 40, Size: demand.GuessSize}
	for _, servings := range []float64{35, 45, 55, 65} {
		r := simulate(t, oneDrink(40, 100*servings), 20000)
		assert.InDelta(t, 1-d.CDF(servings), r.Stocks[0].All.Chance, 0.012, "%v servings", servings)
		missed, left := 0.0, 0.0
		for k := 0.0; k < 400; k++ {
			p := d.CDF(k) - d.CDF(k-1)
			missed += p * math.Max(0, k-servings)
			left += p * math.Max(0, servings-k)
		}
		above := func(level float64) float64 { // conditional on a shortage
			return 100 * (d.Quantile(d.CDF(servings)+level*(1-d.CDF(servings))) - servings)
		}
		assert.InDelta(t, above(0.5), r.Stocks[0].All.Median, 110)
		assert.InDelta(t, above(0.9), r.Stocks[0].All.P90, 210) // whole servings
		assert.InDelta(t, missed, r.Missed[0], 0.1)
		assert.InDelta(t, left*100, r.WasteG[0], 10)
		assert.InDelta(t, 40, r.Missed[0]+r.Served[0], 0.05)
		assert.InDelta(t, 100*r.Missed[0], r.Stocks[0].All.Mean, 1, "half servings do not count as a shortage")
	}
}

func TestFirstSlotIsWhenItRunsOut(t *testing.T) {
	t.Parallel()
	in := oneDrink(0, 200)
	in.Rows[0].Range = demand.FromOverride(fixed(4), nil) // twice the stock: it runs out after two of four slots
	in.Assume = Assumptions{}
	s := simulate(t, in, 100).Stocks[0].All
	assert.Equal(t, 1.0, s.Chance)
	assert.Equal(t, 4, s.FirstSlot)
	assert.InDelta(t, 200, s.Median, 1)
	assert.InDelta(t, 200, s.P90, 1)

	in.Stocks[0].Lots[0].G = 370 // a third of a serving missing: real servings are whole
	s = simulate(t, in, 100).Stocks[0].All
	assert.Zero(t, s.Chance)
	assert.Equal(t, -1, s.FirstSlot)
}

func TestAMissedDrinkTakesNothingElse(t *testing.T) {
	t.Parallel()
	in := oneDrink(50, 0)
	in.Stocks[0].Lots = nil
	in.Drinks[0].Flows = []Take{{0, 140}}
	in.Flows = []Flow{{Key: "ice", Opening: 9000, Exact: true, Capacity: 20000}}
	r := simulate(t, in, 200)
	assert.Equal(t, 1.0, r.Stocks[0].All.Chance)
	assert.Zero(t, r.Flows[0].All.Chance, "the ice did not run out")
	assert.Equal(t, Band{9000, 9000, 9000}, r.Levels[0][7])
}

func TestAmountsLeftByMissedDrinksServeOthers(t *testing.T) {
	t.Parallel()
	in := Input{
		Slots: 1, Assume: Assumptions{},
		Drinks: []Drink{{Stocks: []Take{{0, 100}, {1, 100}}}, {Stocks: []Take{{0, 100}}}},
		Rows:   []Row{{Key: "both", Drink: 0, Range: demand.FromOverride(fixed(10), nil), Share: flat(1)}, {Key: "one", Drink: 1, Range: demand.FromOverride(fixed(10), nil), Share: flat(1)}},
		Stocks: []Stock{{Lots: []Lot{{G: 1000, Until: 1}}}, {Lots: []Lot{{G: 100, Until: 1}}}},
	}
	r := simulate(t, in, 50)
	assert.InDelta(t, 9, r.Missed[0], 0.05, "one of ten can be made")
	assert.InDelta(t, 1, r.Missed[1], 0.05, "the rest serves nine of ten")
}

func TestLotsAreUsedInTheOrderTheyExpire(t *testing.T) {
	t.Parallel()
	in := oneDrink(0, 0)
	in.Assume = Assumptions{}
	in.Rows[0].Range = demand.FromOverride(fixed(10), nil)
	in.Stocks[0].Lots = []Lot{{G: 1000, Until: 20}, {G: 600, Until: 5}, {G: 5000, From: 7, Until: 20}}
	r := simulate(t, in, 20)
	assert.Zero(t, r.Stocks[0].All.Chance)
	assert.Zero(t, r.WasteG[0], "the lot that expires first is used in time")
	in.Stocks[0].Lots[1].G = 1000
	assert.InDelta(t, 250, simulate(t, in, 5000).WasteG[0], 5, "750 g are sold by then; lots that expire after the horizon are carried over")
}

func TestBatchShrinksWithoutItsIce(t *testing.T) {
	t.Parallel()
	in := oneDrink(0, 0)
	in.Assume = Assumptions{}
	in.Rows[0].Range = demand.FromOverride(fixed(10), nil)
	in.Stocks[0].Lots = []Lot{{G: 1000, From: 2, Until: 8, IceG: 400, IceSlot: 1}}
	in.Flows = []Flow{{Key: "ice", Opening: 100, Capacity: 1000}}
	r := simulate(t, in, 20)
	assert.InDelta(t, 7.5, r.Missed[0], 0.05)
	assert.Equal(t, 1.0, r.Flows[0].All.Chance)
	assert.InDelta(t, 300, r.Flows[0].All.Median, 1e-6)
	assert.Equal(t, 1, r.Flows[0].All.FirstSlot)
}

func TestIceIsMadeMeltsAndStopsAtTheFullBin(t *testing.T) {
	t.Parallel()
	in := Input{Slots: 4, Flows: []Flow{{
		Key: "ice", Opening: 1000, Capacity: 2000, LossPerSlot: 0.1,
		Makers: []Maker{{Key: "a", G: []float64{500, 500, 500}}}, Taken: []float64{0, 100},
	}}}
	r := simulate(t, in, 10)
	for i, want := range []float64{1400, 1660, 1994, 1794.6} { // ·0.9 + 500 − 100
		assert.InDelta(t, want, r.Levels[0][i].P50, 1e-9)
	}
	in.Flows[0].Capacity = 1500
	assert.InDelta(t, 1500, simulate(t, in, 10).Levels[0][2].P90, 1e-9)
}

func TestOldCountsAndFarForecastsWidenTheBand(t *testing.T) {
	t.Parallel()
	in := weekend()
	width := func(in Input, slot int) float64 {
		b := simulate(t, in, 500).Levels[0][slot]
		return b.P90 - b.P10
	}
	fresh := width(in, 20)
	old := in
	old.Flows = slices.Clone(in.Flows)
	old.Flows[0].CountAgeH = 18
	assert.Greater(t, width(old, 20), 1.5*fresh)
	far := in
	far.Days = []Day{{Until: 132, AheadDays: 6}, {Until: 228, AheadDays: 7}}
	assert.Greater(t, width(far, 58), width(in, 58))
}

func TestHotterDayRaisesDemandAndLowersIceOutput(t *testing.T) {
	t.Parallel()
	in := weekend()
	for i := range in.Flows[0].Makers {
		in.Flows[0].Makers[i].PerC = -0.05
	}
	for i := range in.Stocks {
		in.Stocks[i].Lots = []Lot{{G: 1e6, Until: 300}}
	}
	in.Flows[0].Opening, in.Flows[0].Capacity, in.Assume.OutputSD = 60000, 1e6, 0
	together := in
	together.Assume.WeatherShare = 1
	apart := in
	apart.Assume.WeatherShare = 0
	a, b := simulate(t, together, 4000).Levels[0][110], simulate(t, apart, 4000).Levels[0][110]
	require.Positive(t, a.P10)
	assert.Greater(t, a.P90-a.P10, 1.05*(b.P90-b.P10), "the two errors are correlated")
}

func TestServiceDaysAreReportedSeparately(t *testing.T) {
	t.Parallel()
	in := oneDrink(40, 4500)
	in.Slots, in.Days = 16, []Day{{Until: 8}, {Until: 16}}
	in.Rows = append(in.Rows, Row{Key: "b", Day: 1, Range: demand.Guess(40), Slot: 10, Share: flat(4)})
	in.Stocks[0].Lots = append(in.Stocks[0].Lots, Lot{G: 8000, From: 8, Until: 16})
	o := simulate(t, in, 2000).Stocks[0]
	require.Len(t, o.Days, 2)
	assert.Greater(t, o.Days[0].Chance, 0.1)
	assert.Less(t, o.Days[1].Chance, 0.01)
	assert.InDelta(t, o.All.Chance, o.Days[0].Chance, 0.01)
	assert.Less(t, o.Days[0].FirstSlot, 8)

	in.Stocks[0].Lots[1].G = 4500
	o = simulate(t, in, 2000).Stocks[0]
	assert.InDelta(t, o.Days[0].Mean, o.Days[1].Mean, 0.2*o.Days[0].Mean, "similar days: the first one's shortage is not added to the second")
	assert.InDelta(t, o.All.Mean, o.Days[0].Mean+o.Days[1].Mean, 1)
	assert.GreaterOrEqual(t, o.Days[1].FirstSlot, 8)
}

func TestSimulationIsDeterministicAndIgnoresOrder(t *testing.T) {
	t.Parallel()
	in := weekend()
	a, b := simulate(t, in, 300), simulate(t, in, 300)
	assert.Equal(t, a, b)
	other := in
	other.Rows = slices.Clone(in.Rows)
	slices.Reverse(other.Rows)
	c := simulate(t, other, 300)
	for i := range a.Stocks {
		assert.InDelta(t, a.Stocks[i].All.Chance, c.Stocks[i].All.Chance, 1e-9)
		assert.InDelta(t, a.Stocks[i].All.Mean, c.Stocks[i].All.Mean, 1e-6)
	}
	assert.InDeltaSlice(t, a.Missed, c.Missed, 1e-6)
}

func TestSimulateStopsWithItsContext(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Simulate(ctx, weekend(), 1, 100)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestEmptyAndInconsistentInput(t *testing.T) {
	t.Parallel()
	assert.Empty(t, simulate(t, Input{}, 0).Stocks)
	in := oneDrink(40, 4500)
	assert.Equal(t, simulate(t, in, 1000), simulate(t, in, 0), "1000 runs by default")
	odd := Input{Slots: 3, Drinks: []Drink{{Stocks: []Take{{5, 1}}, Flows: []Take{{-1, 2}}}},
		Rows: []Row{{Drink: 7, Range: demand.Guess(3), Share: flat(2)}, {Day: 9, Range: demand.Guess(3), Share: flat(2)}, {Range: demand.Guess(3), Slot: 2, Share: flat(9)}}}
	assert.Zero(t, simulate(t, odd, 10).Missed[0], "invalid indices are ignored")
}

// In a slot with one customer expected, nobody comes with probability 1/e.
func TestCustomersArriveAtRandomTimes(t *testing.T) {
	t.Parallel()
	in := oneDrink(0, 0)
	in.Assume = Assumptions{}
	in.Slots, in.Rows[0].Range, in.Rows[0].Share = 100, demand.FromOverride(fixed(90), nil), flat(90)
	in.Rows[0].Slot = 10
	in.Stocks[0].Lots = []Lot{{G: 1e6, Until: 20}, {G: 1e6, From: 21, Until: 100}} // no stock in one slot
	r := simulate(t, in, 20000)
	assert.InDelta(t, 1-math.Exp(-1), r.Stocks[0].All.Chance, 0.01)
	assert.InDelta(t, 1, r.Missed[0], 0.03)
	in.Rows[0].Range, in.Stocks[0].Lots[1].From = demand.FromOverride(fixed(9000), nil), 20
	r = simulate(t, in, 50)
	assert.InDelta(t, 9000, r.Served[0], 1, "in large rows each customer stands for many")
}

// drawDays draws one beverage, ice, and a few drinks that take both.
func drawDays(t *rapid.T) Input {
	in := Input{Slots: 24, Assume: DefaultAssumptions(), Days: []Day{{Until: 12}, {Until: 24, AheadDays: 1}}}
	for k := range rapid.IntRange(1, 4).Draw(t, "drinks") {
		in.Drinks = append(in.Drinks, Drink{Stocks: []Take{{0, rapid.Float64Range(50, 300).Draw(t, "g")}}, Flows: []Take{{0, rapid.Float64Range(0, 200).Draw(t, "ice")}}})
		for d := range 2 {
			in.Rows = append(in.Rows, Row{Key: fmt.Sprint(d, k), Drink: k, Day: d, Range: demand.Guess(rapid.Float64Range(0, 60).Draw(t, "mean")), Slot: 12*d + rapid.IntRange(0, 5).Draw(t, "slot"), Share: flat(5)})
		}
	}
	st := Stock{}
	for range rapid.IntRange(0, 4).Draw(t, "lots") {
		from := rapid.IntRange(0, 20).Draw(t, "from")
		st.Lots = append(st.Lots, Lot{G: rapid.Float64Range(0, 8000).Draw(t, "lot"), From: from, Until: from + rapid.IntRange(1, 16).Draw(t, "hold")})
	}
	in.Stocks = []Stock{st}
	mk := make([]float64, 24)
	for i := range mk {
		mk[i] = rapid.Float64Range(0, 800).Draw(t, "make")
	}
	in.Flows = []Flow{{Key: "ice", Opening: rapid.Float64Range(0, 9000).Draw(t, "opening"), Capacity: 12000, LossPerSlot: 0.01, Makers: []Maker{{Key: "a", G: mk, PerC: -0.015, SD: -1}}}}
	return in
}

func TestMoreStockNeverRaisesTheChanceOfItsShortage(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawDays(t)
		plenty := in // of the other, so that only one can run out
		plenty.Flows = []Flow{{Key: "ice", Opening: 1e9, Exact: true, Capacity: 1e9}}
		more := plenty
		more.Stocks = []Stock{{Lots: append(slices.Clone(in.Stocks[0].Lots), Lot{G: rapid.Float64Range(1, 5000).Draw(t, "more"), From: rapid.IntRange(0, 12).Draw(t, "there"), Until: 24})}}
		a, b := simulate(t, plenty, 60).Stocks[0].All, simulate(t, more, 60).Stocks[0].All
		if b.Chance > a.Chance || b.Mean > a.Mean+1e-6 {
			t.Fatalf("more stock: %+v, less: %+v", b, a)
		}
		enough := in
		enough.Stocks = []Stock{{Lots: []Lot{{G: 1e9, Until: 99}}}}
		icier := enough
		icier.Flows = slices.Clone(in.Flows)
		icier.Flows[0].Opening += rapid.Float64Range(1, 3000).Draw(t, "more ice")
		c, d := simulate(t, enough, 60).Flows[0].All, simulate(t, icier, 60).Flows[0].All
		if d.Chance > c.Chance || d.Mean > c.Mean+1e-6 {
			t.Fatalf("more ice: %+v, less: %+v", d, c)
		}
	})
}

func TestDemandIsServedOrMissedAndBalancesClose(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawDays(t)
		r := simulate(t, in, 60)
		used := 0.0
		for j, d := range in.Drinks {
			asked := 0.0
			for _, row := range in.Rows {
				if row.Drink == j {
					asked += row.Range.Mean()
				}
			}
			if math.Abs(r.Missed[j]+r.Served[j]-asked) > 0.1*asked+0.05 {
				t.Fatalf("demand %g, served %g, missed %g", asked, r.Served[j], r.Missed[j])
			}
			used += r.Served[j] * d.Stocks[0].G
		}
		there := 0.0
		for _, l := range in.Stocks[0].Lots {
			there += l.G
		}
		if used+r.WasteG[0] > there*(1+1e-9)+1e-6 {
			t.Fatalf("%g g used and %g g wasted of %g g", used, r.WasteG[0], there)
		}
		for _, b := range r.Levels[0] {
			if !(b.P10 >= 0 && b.P10 <= b.P50 && b.P50 <= b.P90 && b.P90 <= 12000) {
				t.Fatalf("band %+v", b)
			}
		}
	})
}

func TestDaysDrawnOnceGiveTheSameResult(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawDays(t)
		days := Draw(7, 50)
		for range 3 {
			want, err := Simulate(context.Background(), in, 7, 50)
			require.NoError(t, err)
			got, err := days.Simulate(context.Background(), in)
			require.NoError(t, err)
			want.Levels = nil
			require.Equal(t, want, got)
			in.Stocks = slices.Clone(in.Stocks)
			for k := range in.Stocks {
				in.Stocks[k].Lots = append(slices.Clone(in.Stocks[k].Lots), Lot{Key: "more", G: 500, From: 2 + k, Until: 20, SD: 0.1})
			}
		}
	})
}

// With a beverage for 30 and ice for 20 of about 60, ice is what misses lack first; with much ice it is the beverage alone.
func TestMissesWithoutIceAreCountedApart(t *testing.T) {
	t.Parallel()
	in := oneDrink(60, 3000)
	in.Drinks[0].Flows = []Take{{0, 100}}
	for _, c := range []struct {
		iceG  float64
		ice   bool
		noIce bool
	}{{2000, true, true}, {2000, false, false}, {20000, true, false}} {
		in.Flows = []Flow{{Key: "ice", Opening: c.iceG, Exact: true, Capacity: c.iceG, Ice: c.ice}}
		s := simulate(t, in, 500).Sales[0][0]
		require.Greater(t, s.Missed, 20.0)
		if c.noIce {
			assert.InDelta(t, s.Missed, s.NoIce, 1e-9)
		} else {
			assert.Zero(t, s.NoIce)
		}
	}
	// Both out at the same time counts as ice.
	in.Stocks[0].Lots[0].G = 2000
	in.Flows = []Flow{{Key: "ice", Opening: 2000, Exact: true, Capacity: 2000, Ice: true}}
	s := simulate(t, in, 500).Sales[0][0]
	assert.InDelta(t, s.Missed, s.NoIce, 1e-9)
}
