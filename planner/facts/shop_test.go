package facts_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/planner/brew"
	"hotday/planner/chill"
	"hotday/planner/facts"
	"hotday/planner/ice"
)

// trueShop is how the kiosk really is, where its set-up says otherwise.
type trueShop struct {
	output   float64 // of the ice machine, to the set-up's
	retained float64
	yieldPct float64
	uaWPerK  float64
}

// liveThreeWeeks stores three weeks of ordinary days before Saturday: sales by the till, four looks into the ice bin a day, by eye in
// quarters, two batches a day that are weighed, every other one measured, and a probe in each as it cools.
func liveThreeWeeks(t testing.TB, s *store.Store, setup *models.Setup, truth trueShop, seed uint64) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 4))
	mapped(t, s, "GLASS", "glass", 1)
	bev, machine := &setup.Beverages[0], setup.Ice.Makers[0]
	maker := ice.Maker{KgPerDayRated: machine.KgPerDayRated, RatedAirC: machine.RatedAirC, RatedWaterC: machine.RatedWaterC}
	level, bin := 12_000.0, setup.Ice.BinG
	keep := math.Pow(1-setup.Ice.BinLossPctPH/100, 0.25)
	var post models.SalesPost
	post.Source = "till"
	weather := models.WeatherPost{Kind: models.WeatherObserved}
	quarter := func(at time.Time) { // counted by eye
		g := math.Round((level/bin+0.05*r.NormFloat64())*4) / 4 * bin
		require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at, IceG: new(min(max(0, g), bin))}, at))
	}
	for k := 21; k >= 1; k-- {
		d := saturday.AddDays(-k)
		high := 26 + 4*r.NormFloat64()
		var tasks []models.Task
		batches := batchesOf(setup, d, r)
		for _, b := range batches {
			probe := models.Task{ID: b.ID + "-probe", At: b.Start, Station: "store", Kind: models.TaskTempLog, State: models.Due, Batch: b, Beverage: b.Beverage, Reading: &models.Reading{Of: b.Beverage, LimitC: 21}}
			tasks = append(tasks, models.Task{ID: b.ID, At: b.Start, Station: "left", Kind: models.TaskBrew, State: models.Due, Batch: b, Beverage: b.Beverage}, probe)
		}
		publish(t, s, 22-k, d, tasks...)
		for q := range 96 {
			at := clock(d, q/4, q%4*15)
			if slices.Contains([]int{7*4 + 2, 11 * 4, 15 * 4, 19 * 4}, q) {
				quarter(at)
			}
			air := high - 5 + 5*math.Cos(2*math.Pi*(float64(q)/4-15)/24)
			if q%4 == 0 {
				weather.Hours = append(weather.Hours, models.WeatherHour{At: at, TempC: air})
			}
			took := 0.0
			if q >= 32 && q < 76 {
				n := math.Round(2.2 * (1 + 0.04*(high-26)) * math.Exp(0.5*r.NormFloat64()))
				post.Counts = append(post.Counts, models.SalesCount{Item: "GLASS", WindowStart: at, WindowEnd: at.Add(15 * time.Minute), Count: n})
				took = n * 120 * math.Exp(0.1*r.NormFloat64())
			}
			for _, b := range batches {
				if iceAt := b.IceAt; !iceAt.Before(at) && iceAt.Before(at.Add(15*time.Minute)) {
					took += b.IceG
				}
			}
			level = min(max(0, level*keep+truth.output*maker.KgPerDay(air, setup.Ice.InletWaterC)*1000/96-took), bin)
		}
		for i, b := range batches {
			markBatch(t, s, b, bev, truth, i == 0, r)
		}
	}
	_, err := s.PutCounts(ctx, kiosk, post, time.Now(), "", "")
	require.NoError(t, err)
	require.NoError(t, s.PutWeather(ctx, kiosk, weather))
}

// batchesOf are a day's two batches, as the set-up has them.
func batchesOf(setup *models.Setup, d models.Date, r *rand.Rand) []*models.BatchTask {
	bev := &setup.Beverages[0]
	recipe := brew.Recipe{Ratio: bev.Ratio, IceShare: bev.IceShare, RetainedRatio: bev.RetainedRatio, MaxYieldPct: bev.MaxYieldPct}
	var out []*models.BatchTask
	for i, hour := range []int{8, 13} {
		a := recipe.ForDose(200 + 150*r.Float64())
		start := clock(d, hour, 0)
		out = append(out, &models.BatchTask{ID: fmt.Sprintf("%s-%d", d, i), Date: d, Brewer: "left", Beverage: "flash", Start: start, IceAt: start.Add(50 * time.Minute), Ready: start.Add(60 * time.Minute),
			UseBy: start.Add(9 * time.Hour), DoseG: a.DoseG, BrewWaterG: a.BrewWaterG, IceG: a.IceG, BeverageG: a.BeverageG, BrewerOutTempC: bev.BrewerOutTempC})
	}
	return out
}

// markBatch marks a batch as it really came out.
func markBatch(t testing.TB, s *store.Store, b *models.BatchTask, bev *models.Beverage, truth trueShop, measured bool, r *rand.Rand) {
	t.Helper()
	x, err := brew.Extract(b.DoseG, b.BrewWaterG, truth.retained, truth.yieldPct)
	require.NoError(t, err)
	marked(t, s, b.ID, models.Started, b.Start, nil)
	made := models.TaskMark{Task: b.ID, State: models.Made, At: b.Ready, Key: b.ID, BeverageG: new((x.BeverageG + b.IceG) * math.Exp(0.015*r.NormFloat64()))}
	if measured {
		made.TDSPct = new(x.TDSPct * x.BeverageG / (x.BeverageG + b.IceG) * math.Exp(0.02*r.NormFloat64()))
	}
	_, err = s.AddMark(ctx, kiosk, made, b.Ready)
	require.NoError(t, err)
	// The probe goes in some minutes after the coffee leaves its brewer.
	minutes := 6 + 12*r.Float64()
	mass, ua := x.BeverageG, truth.uaWPerK*math.Exp(0.1*r.NormFloat64())
	lo, hi := bev.BathTempC, b.BrewerOutTempC
	for range 60 {
		if mid := (lo + hi) / 2; chill.CoolingMinutes(mass, b.BrewerOutTempC, bev.BathTempC, ua, mid) > minutes {
			lo = mid
		} else {
			hi = mid
		}
	}
	at := b.Start.Add(30*time.Minute + time.Duration(minutes*float64(time.Minute)))
	_, err = s.AddMark(ctx, kiosk, models.TaskMark{Task: b.ID + "-probe", State: models.Made, At: at, Key: b.ID + "p", TempC: &hi}, at)
	require.NoError(t, err)
}

func learntValue(t testing.TB, l *models.Learnt, id string) *models.LearntValue {
	t.Helper()
	for i := range l.Values {
		if l.Values[i].ID == id {
			return &l.Values[i]
		}
	}
	require.Failf(t, "not learnt", "%s in %+v", id, l.Values)
	return nil
}

func TestThreeWeeksOfOrdinaryMarksCorrectTheSetUp(t *testing.T) {
	t.Parallel()
	s, setup := shopOf(t, func(s *models.Setup) { s.Ice.Moulds = nil })
	truth := trueShop{output: 0.78, retained: 2.6, yieldPct: 18.8, uaWPerK: 47}
	liveThreeWeeks(t, s, &setup, truth, 1)
	now := clock(saturday, 6, 0)
	got, err := facts.LearntShop(ctx, s, kiosk, now)
	require.NoError(t, err)
	for _, v := range got.Values {
		t.Logf("%s: set up %.3g, learnt %.3g (%.3g–%.3g) %s from %d; change %+v %s", v.ID, v.SetUp, v.Value, v.Low, v.High, v.Unit, v.N, v.Change, v.Note)
	}
	machine := learntValue(t, &got, "ice_machine:maker")
	assert.InEpsilon(t, truth.output, machine.Value/machine.SetUp, 0.05)
	require.NotNil(t, machine.Change)
	kept := learntValue(t, &got, "retention:flash")
	assert.InEpsilon(t, truth.retained+(21.8-truth.yieldPct)/100, kept.Value, 0.05, "finished grams per dose, by the set-up's yield")
	require.NotNil(t, kept.Change)
	strong := learntValue(t, &got, "strength:flash")
	require.NotNil(t, strong.Change)
	cooling := learntValue(t, &got, "cooling:flash")
	assert.InEpsilon(t, 60/truth.uaWPerK, cooling.Value/cooling.SetUp, 0.07)
	require.NotNil(t, cooling.Change)
	assert.Equal(t, models.LearntSlowerCooling, cooling.Note)

	// Taken together they make a set-up that plans what really happens.
	after := setup
	for _, v := range []*models.LearntValue{machine, kept, strong, cooling} {
		after, err = after.WithFields(v.Change.Set)
		require.NoError(t, err)
	}
	assert.InEpsilon(t, truth.yieldPct, after.Beverages[0].MaxYieldPct, 0.02)
	_, err = after.WithFields(kept.Change.Set)
	require.Equal(t, models.CodeConflict, models.CodeOf(err), "a change is taken once")
	before, err := after.WithFields(models.Undone(kept.Change.Set))
	require.NoError(t, err)
	assert.InDelta(t, 2.1, before.Beverages[0].RetainedRatio, 1e-9)
}

func TestATrueSetUpNeedsNoChange(t *testing.T) {
	t.Parallel()
	s, setup := shopOf(t, func(s *models.Setup) { s.Ice.Moulds = nil })
	liveThreeWeeks(t, s, &setup, trueShop{output: 1, retained: 2.1, yieldPct: 21.8, uaWPerK: 60}, 2)
	got, err := facts.LearntShop(ctx, s, kiosk, clock(saturday, 6, 0))
	require.NoError(t, err)
	require.NotEmpty(t, got.Values)
	for _, v := range got.Values {
		assert.Nil(t, v.Change, "%+v", v)
	}
}

// A new machine, or a recipe with another grind, has its own physics: what was seen before the set-up was changed says nothing about it. A
// change that was learnt leaves the shop as it is.
func TestAChangeByHandBeginsAgain(t *testing.T) {
	t.Parallel()
	s, setup := shopOf(t, func(s *models.Setup) { s.Ice.Moulds = nil })
	liveThreeWeeks(t, s, &setup, trueShop{output: 0.78, retained: 2.6, yieldPct: 21.8, uaWPerK: 60}, 3)
	now := clock(saturday, 6, 0)
	learn := func() models.Learnt {
		got, err := facts.LearntShop(ctx, s, kiosk, now)
		require.NoError(t, err)
		return got
	}
	_, etag, err := s.Setup(ctx, kiosk)
	require.NoError(t, err)
	before := learn()
	n := learntValue(t, &before, "retention:flash").N
	require.Equal(t, 42, n)

	change := learntValue(t, &before, "retention:flash").Change
	taken, err := setup.WithFields(change.Set)
	require.NoError(t, err)
	at := clock(saturday.AddDays(-1), 20, 0)
	etag, _, err = s.PutSetup(ctx, taken, etag, at)
	require.NoError(t, err)
	_, err = s.AddLearntChange(ctx, kiosk, models.LearntChange{Of: "retention:flash", Value: change.Value, Set: change.Set, At: at, By: "Ada"})
	require.NoError(t, err)
	after := learn()
	v := learntValue(t, &after, "retention:flash")
	require.Equal(t, n, v.N)
	require.Nil(t, v.Change, "the set-up agrees now")
	require.Len(t, after.Changes, 1)

	byHand := taken
	byHand.Beverages = slices.Clone(taken.Beverages)
	byHand.Beverages[0].Ratio = 15
	_, _, err = s.PutSetup(ctx, byHand, etag, clock(saturday.AddDays(-4), 0, 0))
	require.NoError(t, err)
	again := learn()
	require.Equal(t, 8, learntValue(t, &again, "retention:flash").N, "of the last four days")
	require.Equal(t, learntValue(t, &before, "ice_machine:maker").N, learntValue(t, &again, "ice_machine:maker").N, "the machine is the same")
}

func TestAShopWithoutMarksHasLearntNothing(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	got, err := facts.LearntShop(ctx, s, kiosk, clock(saturday, 6, 0))
	require.NoError(t, err)
	require.Empty(t, got.Values)
	require.NotNil(t, got.Values)
	_, err = facts.LearntShop(ctx, s, "nowhere", clock(saturday, 6, 0))
	require.Equal(t, models.CodeNotFound, models.CodeOf(err))
}
