package planner

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

// unsure is a day whose demand is anybody's guess, so that the afternoon's batch is best left to the day.
func unsure(spread float64) models.PlanRequest {
	r := small()
	r.Beverages[0].DisposalCost, r.Coffees[0].CostPerKg = 400, 4000
	r.Beverages[0].HoldH = 6
	r.Demand = nil
	for _, p := range r.Site.DayParts {
		lo, hi := 40*(1-spread), 40*(1+spread)
		r.Demand = append(r.Demand, models.Demand{Date: r.From, DayPart: p.Code, Drink: "dune-glass", Expected: 40, P10: &lo, P90: &hi})
	}
	r.Site.JugG = 1000
	return r
}

func TestABatchIsLeftToAnUncertainDay(t *testing.T) {
	t.Parallel()
	r := unsure(0.6)
	p := planOfRequest(t, r)
	require.Len(t, p.Choices, 1)
	c := p.Choices[0]
	at := slices.IndexFunc(p.Batches, func(b models.BatchTask) bool { return b.Choice == c.ID })
	require.GreaterOrEqual(t, at, 0, "what is brewed if nobody answers is among the batches")
	assert.Equal(t, 0, c.Default)
	assert.InDelta(t, p.Batches[at].BeverageG, c.Options[0].Batch.BeverageG, 1e-6)
	assert.Equal(t, c.LookAt, p.Batches[at].LookAt)
	assert.False(t, c.LookAt.After(p.Batches[at].Start))
	assert.False(t, c.LookAt.Before(r.From.At(8*60, r.Site.Location()).Add(lookAfter)), "the day has shown something by then")
	chance, most := 0.0, math.Inf(1)
	for k, o := range c.Options {
		chance += o.Chance
		g := 0.0
		if o.Batch != nil {
			g = o.Batch.BeverageG
			assert.InDelta(t, o.Batch.DoseG/c.Options[0].Batch.DoseG, g/c.Options[0].Batch.BeverageG, 0.05)
			assert.Equal(t, p.Batches[at].ID, o.Batch.ID)
		}
		assert.Less(t, g, most, "the more is left, the less is brewed")
		most = g
		if k == len(c.Options)-1 {
			assert.Nil(t, o.BelowG)
			continue
		}
		require.NotNil(t, o.BelowG)
		assert.InDelta(t, 0.5, math.Mod(*o.BelowG/1000, 1), 1e-9, "between whole jugs")
	}
	assert.InDelta(t, 1, chance, 1e-9)
	without, err := ComputeWith(context.Background(), r, Options{WithoutFixes: true, NoChoices: true, Budget: 40_000, Days: 200})
	require.NoError(t, err)
	assert.Empty(t, without.Choices)
	assert.Less(t, p.Expected.Cost.Total, without.Expected.Cost.Total)
	assert.Greater(t, c.Saves, 0.01*without.Expected.Cost.Total)
}

func TestASureDayLeavesNothingToChoose(t *testing.T) {
	t.Parallel()
	assert.Empty(t, planOfRequest(t, unsure(0.05)).Choices, "it would save next to nothing")
}

func TestALookIsNotAskedForAgain(t *testing.T) {
	t.Parallel()
	r := unsure(0.6)
	p := planOfRequest(t, r)
	require.Len(t, p.Choices, 1)
	again, err := ComputeWith(context.Background(), r, Options{WithoutFixes: true, Budget: 40_000, Days: 200, Before: p.Batches, ChoicesBefore: p.Choices, BeforeAt: r.Now})
	require.NoError(t, err)
	require.Len(t, again.Choices, 1, "asked for until it is answered")
	assert.Equal(t, p.Choices[0].ID, again.Choices[0].ID)
	assert.Equal(t, p.Choices[0].Options[0].BelowG, again.Choices[0].Options[0].BelowG, "with the same figures")

	g := 2000.0
	r.UnderWay = []models.UnderWay{{Task: "look", Kind: models.TaskLook, State: models.Made, Start: r.Now, Beverage: new("dune-flash"), G: &g}}
	assert.Empty(t, planOfRequest(t, r).Choices)
}

// The figures found cost least of all that there are.
func TestFitChoiceIsTheBest(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "days")
		amount := rapid.Float64Range(0, 50)
		seen := rapid.SliceOfN(amount, n, n).Draw(t, "seen")
		costs := make([][]float64, rapid.IntRange(2, 3).Draw(t, "options"))
		for k := range costs {
			costs[k] = rapid.SliceOfN(amount, n, n).Draw(t, "costs")
		}
		edges := []float64{10, 20, 30, 40}
		limits := append([]float64{math.Inf(-1)}, append(slices.Clone(edges), math.Inf(1))...)
		best := math.Inf(1)
		for i, a := range limits {
			for _, b := range limits[i:] {
				if len(costs) == 2 {
					b = math.Inf(1)
				}
				cost := 0.0
				for r, g := range seen {
					k := 0
					if g >= a {
						k = 1
					}
					if len(costs) == 3 && g >= b {
						k = 2
					}
					cost += costs[k][r]
				}
				best = min(best, cost/float64(n))
			}
		}
		f := fitChoice(seen, costs, edges)
		require.InDelta(t, best, f.cost, 1e-9)
		spent, taken := 0.0, make([]float64, len(costs))
		for r, g := range seen {
			spent += costs[f.option(g)][r] / float64(n)
			taken[f.option(g)] += 1 / float64(n)
		}
		require.InDelta(t, f.cost, spent, 1e-9, "its figures are those of its cost")
		require.InDeltaSlice(t, taken, f.taken, 1e-9)
	})
}
