package planner

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// allDay is a number of people on shift from 07:00 to 19:00 on every weekday.
func allDay(n float64) []models.OnShift {
	var out []models.OnShift
	for _, w := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		out = append(out, models.OnShift{Weekday: w, From: "07:00", To: "19:00", OnShift: n})
	}
	return out
}

// busySmall is the small shop with four times the demand, so that it brews all day, and small batches.
func busySmall() models.PlanRequest {
	r := small()
	for i := range r.Demand {
		r.Demand[i].Expected = 160
	}
	r.Coffees[0].Lots[0].Grams = 80_000
	r.Brewers[0].MaxBeverageG = 2500
	r.Site.ServeMin = 1.5
	return r
}

func TestNobodyIsAskedToDoAnythingAfterTheHardStop(t *testing.T) {
	t.Parallel()
	r := small()
	stop := time.Date(2026, 7, 11, 19, 0, 0, 0, r.Site.Location())
	r.Days = 2
	r.Now = stop.Add(-4 * time.Hour)
	r.Beverages[0].Method, r.Beverages[0].IceShare, r.Beverages[0].Ratio = models.HotChilled, 0, 17
	r.Beverages[0].ReadyMin, r.Beverages[0].HoldH = 110, 24
	r.Demand = []models.Demand{{Date: "2026-07-12", DayPart: "am", Drink: "dune-glass", Expected: 100}}
	p := planOfRequest(t, r)
	evening := 0
	for _, b := range p.Batches {
		if b.Start.Before(stop) {
			evening++
			assert.True(t, b.Ready.Before(stop), "%s goes into the cold store at %s", b.ID, b.Ready)
		}
	}
	assert.Positive(t, evening, "tomorrow morning's coffee is made today")

	r.Beverages[0].ReadyMin = 60 * 11
	for _, b := range planOfRequest(t, r).Batches {
		assert.False(t, b.Start.Before(stop), "it would be ready at night")
	}
}

func TestNoStepBeginsInASpanOfZeroStarts(t *testing.T) {
	t.Parallel()
	r := busySmall()
	free := planOfRequest(t, r)
	at := func(h, m int) time.Time { return time.Date(2026, 7, 11, h, m, 0, 0, r.Site.Location()) }
	r.Attention = []models.Attention{{From: at(12, 0), To: at(13, 0), Starts: 0}}
	p := planOfRequest(t, r) // broken checks every step
	in := func(p models.Plan) (n int) {
		for _, b := range p.Batches {
			if !b.Ready.Before(at(12, 0)) && b.Ready.Before(at(13, 0)) {
				n++
			}
		}
		return n
	}
	assert.Positive(t, in(free))
	assert.Zero(t, in(p))
}

func TestOnePersonAloneGetsAPlanThatOnePersonCanFollow(t *testing.T) {
	t.Parallel()
	r := busySmall()
	free := planOfRequest(t, r)
	assert.Empty(t, free.Hands)
	r.Site.People = allDay(1)
	p := planOfRequest(t, r)
	require.NotEmpty(t, p.Hands)
	assert.Less(t, len(p.Batches), len(free.Batches))
	assert.NotEmpty(t, p.Batches, "one batch an hour is always possible")
	busiest := 0.0
	for _, h := range p.Hands {
		assert.InDelta(t, 1, h.OnShift, 1e-9)
		assert.InDelta(t, 24, h.ServingMin, 24, "at most 32 drinks in half an hour")
		assert.LessOrEqual(t, h.UsedMin, h.FreeMin+1e-6)
		busiest = max(busiest, h.ServingMin)
	}
	assert.Greater(t, busiest, 20.0)
	r.Site.People = allDay(2)
	assert.GreaterOrEqual(t, len(planOfRequest(t, r).Batches), len(p.Batches))
}

func TestAPersonMoreIsOfferedWhereHandsAreTheCause(t *testing.T) {
	t.Parallel()
	r := busySmall()
	r.Site.People = allDay(1)
	r.Site.WorkMin = &models.WorkMin{Brew: 14, BathFlash: 10, Store: 10}
	p, err := ComputeWith(context.Background(), r, Options{Budget: 40_000, Days: 200})
	require.NoError(t, err)
	w := warningOf(t, p, models.WarnBeverageShort)
	assert.Contains(t, w.Cause, "nobody has time for another batch")
	assert.Contains(t, w.Fields, "site.people")
	var person *models.Fix
	for i := range w.Fixes {
		if strings.Contains(w.Fixes[i].Action, "Add a person") {
			person = &w.Fixes[i]
		}
	}
	require.NotNil(t, person, "%+v", w.Fixes)
	assert.Less(t, person.Effect.Amount, w.Amount)
	var change struct {
		Site struct {
			People []models.OnShift `json:"people"`
		} `json:"site"`
	}
	require.NoError(t, json.Unmarshal(person.Change, &change))
	added := change.Site.People[len(change.Site.People)-1]
	assert.Equal(t, models.Date("2026-07-11"), *added.Date)
	assert.InDelta(t, 1, added.OnShift, 0)
	again := patched(t, r, person.Change)
	noon := time.Date(2026, 7, 11, 14, 0, 0, 0, r.Site.Location())
	assert.InDelta(t, 2, models.OnShiftAt(again.Site.Shifts("2026-07-11"), noon), 1e-9, "the person comes on top of the one on shift: %+v", added)
}

func TestBathsLimitThePlanAndAreNamed(t *testing.T) {
	t.Parallel()
	r := busySmall()
	ua := 1.0 // slow: about an hour in the bath
	r.Beverages[0].CoolingUAWPerK = &ua
	r.Brewers = append(r.Brewers, r.Brewers[0])
	r.Brewers[1].Code = "second"
	r.Demand = r.Demand[1:] // the afternoon, which the morning could prepare for
	one, none := 1, 0
	free := planOfRequest(t, r)
	r.Site.Baths = &one
	p := planOfRequest(t, r)
	assert.Less(t, servedBy(p), servedBy(free))
	again, err := ComputeWith(context.Background(), r, Options{Budget: 40_000, Days: 200})
	require.NoError(t, err)
	w := warningOf(t, again, models.WarnBeverageShort)
	assert.Contains(t, w.Cause, "bath")
	assert.True(t, slices.ContainsFunc(w.Fixes, func(f models.Fix) bool { return strings.Contains(f.Action, "ice-bath vessel") }), "%+v", w.Fixes)

	r.Site.Baths = &none
	p = planOfRequest(t, r)
	assert.Empty(t, p.Batches)
	assert.Contains(t, warningOf(t, p, models.WarnBeverageShort).Fields, "site.baths")
}

func TestABatchUnderWayUsesHandsAndBathsFirst(t *testing.T) {
	t.Parallel()
	r := busySmall()
	one := 1
	r.Site.Baths = &one
	r.Site.People = allDay(1)
	r.Now = time.Date(2026, 7, 11, 12, 0, 0, 0, r.Site.Location())
	ua, g := 1.0, 2500.0
	r.Beverages[0].CoolingUAWPerK = &ua
	r.UnderWay = []models.UnderWay{{Task: "t", Kind: models.TaskBrew, State: models.Started, Start: r.Now.Add(-20 * time.Minute), Brewer: &r.Brewers[0].Code,
		Beverage: &r.Beverages[0].Code, BeverageG: &g}}
	with, err := compute(context.Background(), &r, Options{Budget: 5000, Days: 50})
	require.NoError(t, err)
	require.Empty(t, broken(&r, &with.plan))
	ready := with.plan.Batches[0].Ready
	require.True(t, ready.After(r.Now.Add(20*time.Minute)))
	for i, free := range with.bathsFree() {
		assert.Equal(t, with.h.at(i).Before(ready), free == 0, "%s: the only bath is in use until %s", with.h.at(i), ready)
	}
	under := r.UnderWay
	r.UnderWay = nil
	without, err := compute(context.Background(), &r, Options{Budget: 5000, Days: 50})
	require.NoError(t, err)
	r.UnderWay = under
	had, left, used := without.workLeft(), with.workLeft(), 0.0
	for w := range left {
		assert.LessOrEqual(t, left[w], had[w]+1e-9)
		used += had[w] - left[w]
	}
	assert.InDelta(t, 5, used, 1e-6, "putting it into the cold store is still to come")
}

func TestAReplanLeavesTheNextTwoHoursAlone(t *testing.T) {
	t.Parallel()
	r := busySmall()
	r.Now = time.Date(2026, 7, 11, 9, 0, 0, 0, r.Site.Location())
	o := Options{WithoutFixes: true, Budget: 40_000, Days: 200}
	before, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	soon := map[time.Time]float64{}
	for _, b := range before.Batches {
		if !b.Start.After(r.Now.Add(2 * time.Hour)) {
			soon[b.Start] = b.BeverageG
		}
	}
	require.NotEmpty(t, soon)
	o.Before = before.Batches
	quiet := r
	quiet.Demand = []models.Demand{{Date: r.From, DayPart: "am", Drink: "dune-glass", Expected: 2}}
	p, err := ComputeWith(context.Background(), quiet, o)
	require.NoError(t, err)
	require.Empty(t, broken(&quiet, &p))
	require.Len(t, p.Batches, len(soon), "nothing later is worth making")
	for _, b := range p.Batches {
		assert.InDelta(t, soon[b.Start], b.BeverageG, 1e-6, "%s", b.Start)
	}
	o.Before = nil
	p, err = ComputeWith(context.Background(), quiet, o)
	require.NoError(t, err)
	assert.Less(t, len(p.Batches), len(soon), "the rule is the reason")

	o.Before = before.Batches
	out := r
	out.Outages = []models.Outage{{Kind: "brewer", Code: "urn", From: r.Now, To: r.Now.Add(90 * time.Minute)}}
	p, err = ComputeWith(context.Background(), out, o)
	require.NoError(t, err)
	require.Empty(t, broken(&out, &p))
	for _, b := range p.Batches {
		assert.False(t, b.Start.Before(r.Now.Add(90*time.Minute)), "an outage forces it")
	}
}

func TestABatchBegunEarlyIsNotMadeAgain(t *testing.T) {
	t.Parallel()
	r := small()
	r.Now = time.Date(2026, 7, 11, 8, 0, 0, 0, r.Site.Location())
	o := Options{WithoutFixes: true, Budget: 40_000, Days: 200}
	planned := models.BatchTask{ID: "x", Brewer: "urn", Beverage: "dune-flash", Start: r.Now.Add(time.Hour), BeverageG: 5000, State: models.Due}
	o.Before = []models.BatchTask{planned}
	count := func(r models.PlanRequest) (n int) {
		p, err := ComputeWith(context.Background(), r, o)
		require.NoError(t, err)
		require.Empty(t, broken(&r, &p))
		for _, b := range p.Batches {
			if b.State == models.Due && b.Start.Equal(planned.Start) {
				n++
			}
		}
		return n
	}
	r.Demand = []models.Demand{{Date: r.From, DayPart: "am", Drink: "dune-glass", Expected: 10}}
	assert.Equal(t, 1, count(r))
	g := 5000.0
	r.UnderWay = []models.UnderWay{{Task: "t", Kind: models.TaskBrew, State: models.Started, Start: r.Now.Add(-10 * time.Minute), Brewer: &planned.Brewer, Beverage: &planned.Beverage, BeverageG: &g}}
	assert.Zero(t, count(r))
}

// The weekend with two on shift, three from 12:00 to 18:00.
func weekendWithPeople(t testing.TB) models.PlanRequest {
	r := requestFrom(t, "weekend.json")
	for _, w := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		r.Site.People = append(r.Site.People, models.OnShift{Weekday: w, From: "06:00", To: "21:00", OnShift: 2}, models.OnShift{Weekday: w, From: "12:00", To: "18:00", OnShift: 1})
	}
	two := 2
	r.Site.Baths = &two
	return r
}

func TestTheWeekendFitsItsPeople(t *testing.T) {
	t.Parallel()
	r := weekendWithPeople(t)
	p, err := ComputeWith(context.Background(), r, Options{WithoutFixes: true, Budget: 100_000, Days: 100})
	require.NoError(t, err)
	require.Empty(t, broken(&r, &p))
	assert.NotEmpty(t, p.Hands)
	assert.NotEmpty(t, p.Batches)
}
