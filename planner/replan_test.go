package planner

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// noon is the small shop at twelve, a batch begun a quarter of an hour ago.
func noon() models.PlanRequest {
	r := small()
	r.Now = time.Date(2026, 7, 11, 12, 0, 0, 0, r.Site.Location())
	g := 4000.0
	r.UnderWay = []models.UnderWay{{Task: "task-7", Kind: models.TaskBrew, State: models.Started, Start: r.Now.Add(-15 * time.Minute), Brewer: &r.Brewers[0].Code,
		Beverage: &r.Beverages[0].Code, BeverageG: &g}}
	return r
}

func TestWhatIsStartedStaysAndCounts(t *testing.T) {
	t.Parallel()
	r := noon()
	r.Brewers[0].BusyMin = 40
	r.UnderWay[0].Start = r.Now.Add(-15 * time.Minute)
	p := planOfRequest(t, r)
	var kept *models.BatchTask
	for i := range p.Batches {
		if b := &p.Batches[i]; b.State == models.Started {
			require.Nil(t, kept)
			kept = b
		} else {
			assert.False(t, b.Start.Before(r.UnderWay[0].Start.Add(40*time.Minute)), "%s while the brewer is busy", b.Start)
		}
	}
	require.NotNil(t, kept)
	assert.Equal(t, "task-7", kept.ID)
	assert.True(t, kept.Start.Equal(r.UnderWay[0].Start))
	assert.InDelta(t, 4000, kept.BeverageG, 1e-9)
	assert.Equal(t, []models.UnderWayMade{{Task: "task-7", Kind: models.TaskBrew, State: models.Started}}, p.Made)

	r.UnderWay = nil
	without := planOfRequest(t, r)
	assert.Greater(t, servedBy(without), servedBy(p)-4000+1000, "what is under way is not made again")
	assert.Greater(t, p.Ice.StirredInG, 0.0, "it takes its ice yet")
}

func TestABatchMadeAndCountedIsNotCountedTwice(t *testing.T) {
	t.Parallel()
	r := noon()
	r.UnderWay[0].State, r.UnderWay[0].Start = models.Made, r.Now.Add(-2*time.Hour)
	made := r.UnderWay[0].Start.Add(30 * time.Minute)
	alone := planOfRequest(t, r)
	r.Stock = []models.Stock{{Beverage: "dune-flash", G: 2500, MadeAt: made}}
	counted := planOfRequest(t, r)
	assert.InDelta(t, 4000, alone.Stock[0].G, 1e-6, "nobody counted it: it is all there")
	assert.InDelta(t, 2500, counted.Stock[0].G, 1e-6, "somebody looked")
	r.Stock[0].G = 0
	gone := planOfRequest(t, r)
	assert.Zero(t, gone.Stock[0].G)
}

func TestCountsMoveTheRestOfTheDay(t *testing.T) {
	t.Parallel()
	r := noon()
	r.UnderWay = nil
	at := func(sold float64) models.Plan {
		r := r
		r.Sold = []models.Sold{{Date: r.From, DayPart: "am", Drink: "dune-glass", Count: sold, Until: r.Now}}
		return planOfRequest(t, r)
	}
	slow, usual, fast := at(12), at(32), at(60)
	afternoon := func(p models.Plan) models.DemandRange { return p.Demand[len(p.Demand)-1] }
	assert.Less(t, afternoon(slow).Mean, afternoon(usual).Mean)
	assert.Less(t, afternoon(usual).Mean, afternoon(fast).Mean)
	assert.InDelta(t, 40, afternoon(usual).Mean, 2)
	assert.Contains(t, afternoon(fast).Basis, "sales so far")
	// An hour of five is left of the morning, which has sold 15 an hour so far.
	assert.Greater(t, fast.Demand[0].Mean, afternoon(fast).Mean/5, "the morning's own sales say more of its rest than of the afternoon")
	assert.Less(t, fast.Demand[0].Mean, 15.0)
	assert.Greater(t, servedBy(fast), servedBy(slow))
}

func TestALoadInTheFreezerIsTakenWhenItIsIce(t *testing.T) {
	t.Parallel()
	r := noon()
	r.UnderWay = nil
	r.Ice.OpeningG = 0
	r.Ice.Moulds = []models.MouldSet{{Code: "bars", LoadG: 3000, ThicknessMM: 30, Geometry: "slab", Sides: 2, LoadsAtOnce: 1, FreezerAirC: -20, HWM2K: 25, FreezerHeatW: 400, Treated: true, MineralShare: 1}}
	code := "bars"
	r.UnderWay = []models.UnderWay{{Task: "fill-1", Kind: models.TaskIceFill, State: models.Started, Start: r.Now.Add(-time.Hour), Mould: &code}}
	p := planOfRequest(t, r)
	require.NotEmpty(t, p.Ice.Quotas)
	first := p.Ice.Quotas[0].Loads[0]
	assert.True(t, first.FillAt.Equal(r.UnderWay[0].Start))
	assert.True(t, first.TakeAt.After(r.Now))
	for _, q := range p.Ice.Quotas {
		for _, l := range q.Loads {
			assert.True(t, l.FillAt.Equal(first.FillAt) || !l.FillAt.Before(first.TakeAt), "the mould is filled again when it is empty")
		}
	}
}

func TestStockPastItsTimeIsNotCountedOn(t *testing.T) {
	t.Parallel()
	r := noon()
	r.UnderWay = nil
	r.Stock = []models.Stock{{Beverage: "dune-flash", G: 3000, MadeAt: r.Now.Add(-9 * time.Hour)}, {Beverage: "dune-flash", G: 1000, MadeAt: r.Now.Add(-2 * time.Hour)}}
	p := planOfRequest(t, r)
	assert.InDelta(t, 1000, p.Stock[0].G, 1e-9)
	assert.Contains(t, warningOf(t, p, models.WarnHoldTooLong).Fields, "stock.0.made_at")
}

func TestSurplusIsThrownAwayEarliestExpiryFirst(t *testing.T) {
	t.Parallel()
	r := noon()
	r.UnderWay = nil
	r.Site.StoreG = 3000
	r.Stock = []models.Stock{{Beverage: "dune-flash", G: 2000, MadeAt: r.Now.Add(-1 * time.Hour)}, {Beverage: "dune-flash", G: 2500, MadeAt: r.Now.Add(-6 * time.Hour)}}
	r.Ice.OpeningG = r.Ice.BinG + 4000
	p := planOfRequest(t, r)
	assert.InDelta(t, 3000, p.Stock[0].G, 1e-6)
	w := warningOf(t, p, models.WarnColdStoreFull)
	assert.Contains(t, kinds(p), models.WarnColdStoreFull)
	assert.Greater(t, w.Amount, 0.0)
	assert.InDelta(t, r.Ice.BinG, p.Ice.OpeningG, 1e-9)
	two := 0
	for _, w := range p.Warnings {
		if w.Kind == models.WarnColdStoreFull {
			two++
			assert.InDelta(t, map[bool]float64{true: 4, false: 1.5}[w.Fields[0] == "ice.opening_g"], w.Amount, 1e-9)
		}
	}
	assert.Equal(t, 2, two)
}

func TestAReplanWithNothingNewKeepsItsBatches(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "weekend.json")
	o := Options{WithoutFixes: true, Days: 50} // a plan worth keeping: what is far from the best should jump
	before, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	r.Now = r.Now.Add(time.Hour) // half an hour before the first batch
	o.Before = before.Batches
	after, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	require.Empty(t, broken(&r, &after))
	same := 0
	for _, a := range after.Batches {
		for _, b := range before.Batches {
			if a.Start.Equal(b.Start) && a.Brewer == b.Brewer && a.Beverage == b.Beverage && math.Abs(a.DoseG-b.DoseG) < 0.11 {
				same++
			}
		}
	}
	assert.Equal(t, len(before.Batches), same, "nothing jumps")
	assert.Len(t, after.Batches, same)

	// Of plans for one level the costs compare: one is made again from nothing, the other keeps what it can of the plan before.
	level := 88.0
	r.ServiceLevelPct, o.Before, o.Budget = &level, nil, 200_000
	before, err = ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	r.Outages = append(r.Outages, models.Outage{Kind: "brewer", Code: "drip-a", From: r.Now.Add(17 * time.Hour), To: r.Now.Add(22 * time.Hour)})
	fresh, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	o.Before = before.Batches
	moved, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	require.Empty(t, broken(&r, &moved))
	assert.LessOrEqual(t, moved.Cost.Total, fresh.Cost.Total*1.011, "what is kept costs almost the same")
}
