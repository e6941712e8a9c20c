package planner

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Coffee brewed is sold, left over or in stock: what the simulated days sell of it and leave adds up to what was made.
func TestExpectedDrinksCoffeeAndMoneyAddUp(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"one-day.json", "weekend.json"} {
		p, err := ComputeWith(context.Background(), requestFrom(t, name), Options{WithoutFixes: true, Budget: 100_000, Days: 200, PlanOnly: true})
		require.NoError(t, err)
		e := p.Expected
		assert.InDelta(t, e.Demanded, e.Sold+e.Missed, 1e-6)
		assert.InDelta(t, p.Summary.Servings, e.Demanded, 0.1*p.Summary.Servings, "as many as the demand's means")
		var days, drinks, poured, cost, left float64
		for _, d := range e.Days {
			days += d.Sold
		}
		for _, d := range e.Drinks {
			drinks += d.Sold
		}
		for _, w := range e.PouredAway {
			poured += w.G
			cost += w.Cost
		}
		for _, l := range p.Left {
			if !l.Carried {
				left += l.G
			}
		}
		assert.InDelta(t, e.Sold, days, 1e-6)
		assert.InDelta(t, e.Sold, drinks, 1e-6)
		assert.InDelta(t, e.PouredAwayG, poured, 1)
		assert.InDelta(t, e.PouredAwayG, left, 1)
		assert.InDelta(t, e.Cost.PouredAway, cost, 1)
		assert.InDelta(t, e.Cost.Total, e.Cost.Brewing+e.Cost.Aging+e.Cost.PouredAway+e.Cost.MissedSales, 1e-6)
	}
}

// The kiosk is closed on Sunday: what Saturday leaves is poured away, though its use-by time is after midnight.
func TestCoffeeThatCannotBeSoldAnyMoreIsPouredAway(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "one-day.json")
	for i := range r.Beverages {
		r.Beverages[i].HoldH = 24
	}
	o := Options{WithoutFixes: true, Budget: 50_000, Days: 300, PlanOnly: true}
	p, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	used := p.Expected.Sold * 180
	made := 0.0
	for _, b := range p.Batches {
		made += b.BeverageG
	}
	assert.InDelta(t, made-used, p.Expected.PouredAwayG, 0.05*made, "brewed and not sold")

	r.Site.Opening = append(r.Site.Opening, models.Opening{Weekday: "sun", From: "00:15", To: "19:00"})
	open, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	assert.Less(t, open.Expected.PouredAwayG, p.Expected.PouredAwayG, "the last batches can be sold on Sunday")
	assert.True(t, open.Left[len(open.Left)-1].Carried)
}

// A kiosk with too little coffee, and then with too little ice: each missed drink costs its cause's share of what it earns, and the coffee
// that it left.
func TestMissedSalesCostByTheirCause(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]float64{"beverage": 0.4, "ice": 0.8} {
		r := small()
		r.Costs = models.Costs{ShortFactor: 0.4, IceShortFactor: new(0.8), TaxPct: new(5.0)}
		if name == "ice" {
			r.Ice.OpeningG, r.Ice.Plain.OpeningG = 6000, 30000
			r.Beverages[0].IceShare, r.Beverages[0].Bath = 0.02, true
			r.ServiceLevelPct = new(90.0) // else coffee that has no ice is not brewed, and is what is missed
		} else {
			r.Brewers[0].Available = []models.ClockSpan{{From: "07:00", To: "07:15"}}
		}
		e := planOfRequest(t, r).Expected
		coffee := 180 * 2.4 / (14.6 + 0.218 - 2.1)
		require.Greater(t, e.Missed, 15.0, name)
		assert.InDelta(t, e.MissedNoIce, e.Drinks[0].MissedNoIce, 1e-9)
		if name == "ice" {
			assert.Greater(t, e.MissedNoIce, 0.9*e.Missed)
		} else {
			assert.Zero(t, e.MissedNoIce)
		}
		each := e.Cost.MissedSales / e.Missed
		assert.InEpsilon(t, want*(420/1.05-10-coffee)+coffee, each, 0.05, "%s: hardly any miss has another cause", name)
	}
}

// What one beverage's customers lose is little where most choose another drink: less of it is made than where all leave.
func TestLessIsMadeWhereCustomersChooseAnotherDrink(t *testing.T) {
	t.Parallel()
	var poured, missed []float64
	for _, factor := range []float64{0.1, 1, 4} {
		r := small()
		r.Costs.ShortFactor = factor
		e := planOfRequest(t, r).Expected
		poured, missed = append(poured, e.PouredAwayG), append(missed, e.Missed)
	}
	assert.IsIncreasing(t, poured)
	assert.IsDecreasing(t, missed)
}
