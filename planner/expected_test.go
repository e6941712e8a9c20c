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
