package replay

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// newKitchen is the toy shop with ice in the glass, from 10:00 on, in slots of half an hour.
func newKitchen(t *testing.T, slots int, change func(*simulation)) (*simulation, time.Time) {
	t.Helper()
	s := toySeason(1, func(int) float64 { return 0 })
	s.Drinks[0].ServingIceG = 100
	from := s.Days[0].Date.At(10*60, time.UTC)
	l := &simulation{s: &s, prices: newPrices(&s.Setup), k: &kitchen{}, sheet: &sheet{}, missed: [][]float64{make([]float64, slots), make([]float64, slots)}, from: from, slot: 30 * time.Minute, n: slots, iceRetention: 1,
		demand: [][]float64{make([]float64, slots)}, iceOutput: make([]float64, slots), freeze: freezeTimes(&s.Ice), staffed: []models.Span{{From: from, To: from.Add(24 * time.Hour)}}}
	change(l)
	return l, from
}

// run follows the sheet through all slots.
func (sim *simulation) run() Figures {
	sim.follow(sim.sheet)
	sim.runTo(sim.n)
	return sim.figures
}

func lot(g float64, ready, useBy time.Time) batch { return batch{g: g, ready: ready, useBy: useBy} }

func TestOldestLotFirstWithItsAgeingCost(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 4, func(l *simulation) {
		l.s.Beverages[0].AgingCostPerKgPH = 10
		l.prices = newPrices(&l.s.Setup)
		l.k.ice = 1000
		l.demand[0][0] = 3 // 600 g
	})
	l.k.lots = []batch{lot(500, from.Add(-time.Hour), from.Add(5*time.Hour)), lot(500, from.Add(-2*time.Hour), from.Add(4*time.Hour))}
	f := l.run()
	require.InDelta(t, 500*0.01*2+100*0.01*1, f.Aging, 1e-9)
	require.Len(t, l.k.lots, 1)
	require.InDelta(t, 400, l.k.lots[0].g, 1e-9)
	require.InDelta(t, 700, l.k.ice, 1e-9)
	require.Zero(t, f.Missed)
	require.InDelta(t, 3*200*toyCoffee, f.Coffee, 1e-9)
}

func TestNothingIsServedAfterItsUseBy(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 2, func(l *simulation) {
		l.k.ice = 1000
		l.demand[0][0], l.demand[0][1] = 1, 1
	})
	l.k.lots = []batch{lot(1000, from, from.Add(45*time.Minute))} // the second slot ends after it
	f := l.run()
	require.InDelta(t, 1, f.Missed, 1e-9)
	require.InDelta(t, 800, f.PouredG, 1e-9)
	require.InDelta(t, 800*(toyCoffee+toyDispose)+toyGlass, f.Cost(), 1e-9)
}

func TestIceShortageCountsHoursAndMissedDrinks(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 4, func(l *simulation) {
		l.k.ice = 150
		l.iceOutput[2] = 100
		for i := range 4 {
			l.demand[0][i] = 1
		}
	})
	l.k.lots = []batch{lot(5000, from, from.Add(5*time.Hour))}
	f := l.run()
	require.InDelta(t, 0.5+1, f.Missed, 1e-9, "half a glass in the second slot and one in the fourth")
	require.InDelta(t, 1, f.IceShortH, 1e-9)
	require.InDelta(t, 5000-200*2.5, l.k.lots[0].g, 1e-6, "a drink without ice takes no beverage")
}

func TestIceMachinesStopAtAFullBinAndIceMelts(t *testing.T) {
	t.Parallel()
	l, _ := newKitchen(t, 3, func(l *simulation) {
		l.iceRetention = 0.5
		l.k.ice = 800
		l.iceOutput = []float64{100, 900, 900}
	})
	l.run()
	require.InDelta(t, 1000, l.k.ice, 1e-9)
	l, _ = newKitchen(t, 1, func(l *simulation) {
		l.iceRetention = 0.5
		l.k.ice = 800
		l.iceOutput = []float64{100}
	})
	l.run()
	require.InDelta(t, 500, l.k.ice, 1e-9)
}

func TestABatchShrinksWithItsIce(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 3, func(l *simulation) { l.k.ice = 300 })
	l.sheet = &sheet{batches: []batch{{brewer: "urn", start: from, iceAt: from.Add(30 * time.Minute), ready: from.Add(40 * time.Minute), useBy: from.Add(6 * time.Hour), g: 4000, iceG: 400}}}
	f := l.run()
	require.Len(t, l.k.lots, 1)
	require.InDelta(t, 3000, l.k.lots[0].g, 1e-6)
	require.InDelta(t, 0.5, f.IceShortH, 1e-9)
	require.Equal(t, 1, f.Batches)
	require.InDelta(t, toyBatch, f.BatchCost, 1e-9)
}

func TestIceIsReservedForABatch(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 3, func(l *simulation) {
		l.k.ice = 400
		l.demand[0][0] = 2
	})
	l.k.lots = []batch{lot(5000, from, from.Add(5*time.Hour))}
	l.sheet = &sheet{batches: []batch{{brewer: "urn", start: from, iceAt: from.Add(30 * time.Minute), ready: from.Add(40 * time.Minute), useBy: from.Add(6 * time.Hour), g: 4000, iceG: 300}}}
	f := l.run()
	require.InDelta(t, 1, f.Missed, 1e-9)
	require.InDelta(t, 4000, l.k.lots[len(l.k.lots)-1].g, 1e-6)
}

func TestColdStoreOverflowIsPouredAway(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 1, func(l *simulation) { l.s.Site.StoreG = 3000 })
	l.k.lots = []batch{lot(2000, from, from.Add(3*time.Hour)), lot(2500, from, from.Add(4*time.Hour))}
	f := l.run()
	require.InDelta(t, 1500, f.PouredG, 1e-6)
	require.InDelta(t, 500, l.k.lots[0].g, 1e-6, "the oldest goes first")
}

func TestTheParKitchenRefillsEveryMould(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 48, func(l *simulation) {
		l.s.Ice.Moulds = []models.MouldSet{{Code: "block", LoadG: 200, ThicknessMM: 20, Geometry: "slab", Sides: 2, LoadsAtOnce: 1, FreezerAirC: -20, HWM2K: 20, FreezerHeatW: 200, Treated: true}}
		l.freeze = freezeTimes(&l.s.Ice)
		l.s.Ice.BinG = 500
	})
	require.Positive(t, l.freeze[0])
	l.sheet.fillAllMoulds = true
	l.run()
	require.InDelta(t, 400, l.k.ice, 1e-9, "two loads fit into the bin, the third waits in its mould")
	require.Len(t, l.k.moulds, 1)
	require.True(t, l.k.moulds[0].emptyAt.Before(from.Add(24*time.Hour)))
}

func TestScarceItemsAreSharedAndTheRestSharedAgain(t *testing.T) {
	t.Parallel()
	l, from := newKitchen(t, 1, func(l *simulation) {
		l.s.Drinks = append(l.s.Drinks, models.Drink{Code: "neat", Price: 300, Uses: []models.Use{{Beverage: "cold", G: 100}}})
		l.prices = newPrices(&l.s.Setup)
		l.demand = [][]float64{{4}, {4}}
		l.k.ice = 100 // one glass
	})
	l.k.lots = []batch{lot(1000, from, from.Add(3*time.Hour))}
	f := l.run()
	// Demand is 1200 g of 1000. Ice allows one glass (200 g), which leaves 800 g for four neat ones of 100 g.
	require.InDelta(t, 3, f.Missed, 1e-6)
	require.InDelta(t, 400, l.k.lots[0].g, 1e-3)
}

func TestMissedDrinksCostByWhatWasOut(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name                         string
		coffeeG, iceG, factor, noIce float64
	}{
		{"beverage", 400, 1000, 0.4, 0}, {"ice", 1000, 200, 0.8, 1}, {"both", 400, 200, 0.8, 1},
	} {
		l, from := newKitchen(t, 1, func(l *simulation) {
			l.s.Costs = models.Costs{ShortFactor: 0.4, IceShortFactor: new(0.8)}
			l.prices = newPrices(&l.s.Setup)
			l.k.ice = c.iceG
			l.demand[0][0] = 3 // 600 g and 300 g of ice
		})
		l.k.lots = []batch{lot(c.coffeeG, from, from.Add(5*time.Hour))}
		f := l.run()
		require.InDelta(t, 1, f.Missed, 1e-6, c.name)
		require.InDelta(t, c.noIce, f.MissedNoIce, 1e-6, c.name)
		require.InDelta(t, c.factor*l.prices.Contribution[0], f.Lost, 1e-6, c.name)
	}
}
