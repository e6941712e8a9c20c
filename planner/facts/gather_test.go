package facts_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/facts"
)

var ctx = context.Background()

const kiosk = "lido"

// shopOf is the kiosk of testdata/requests/one-day.json, open every day.
func shopOf(t testing.TB, change func(*models.Setup)) (*store.Store, models.Setup) {
	t.Helper()
	doc, err := os.ReadFile("../../testdata/requests/one-day.json")
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(doc, &r))
	setup := r.Setup
	setup.Site.Opening = nil
	for _, day := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		setup.Site.Opening = append(setup.Site.Opening, models.Opening{Weekday: day, From: "08:00", To: "19:00"})
	}
	setup.Drinks = append(setup.Drinks, models.Drink{Code: "tonic", Price: 500, Uses: []models.Use{{Beverage: "flash", G: 120}}, ServingIceG: 150})
	setup.Ice.Moulds = []models.MouldSet{{Code: "blocks", LoadG: 2000, ThicknessMM: 40, Geometry: "slab", Sides: 2, LoadsAtOnce: 1, FreezerAirC: -18,
		HWM2K: 12, FreezerHeatW: 150, Treated: true, MineralShare: 1}}
	if change != nil {
		change(&setup)
	}
	require.NoError(t, setup.Validate())
	s, err := store.Open(ctx, filepath.Join(t.TempDir(), "shop.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	_, _, err = s.PutSetup(ctx, setup, "", time.Now())
	require.NoError(t, err)
	return s, setup
}

const saturday = models.Date("2026-07-11")

var berlin = func() *time.Location {
	loc, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		panic(err)
	}
	return loc
}()

func clock(d models.Date, hour, minute int) time.Time { return d.At(hour*60+minute, berlin) }

func gather(t testing.TB, s models.Store, now time.Time) models.PlanRequest {
	t.Helper()
	r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: saturday, Days: 1, Now: now})
	require.NoError(t, err)
	if len(r.Demand)+len(r.Forecast) > 0 {
		require.NoError(t, r.Validate(), "what is gathered can be planned")
	}
	return r
}

func sold(t testing.TB, s models.Store, item string, from time.Time, minutes int, n float64) {
	t.Helper()
	_, err := s.PutCounts(ctx, kiosk, models.SalesPost{Source: "till", Counts: []models.SalesCount{
		{Item: item, WindowStart: from, WindowEnd: from.Add(time.Duration(minutes) * time.Minute), Count: n}}}, time.Now(), "", "")
	require.NoError(t, err)
}

func mapped(t testing.TB, s models.Store, item, drink string, factor float64) {
	t.Helper()
	require.NoError(t, s.PutMappings(ctx, kiosk, []models.ItemMapping{{Source: "till", Item: item, Drink: new(drink), Factor: factor}}))
}

func TestGatherReportsMissingData(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	_, err := facts.Gather(ctx, s, facts.GatherQuery{Site: "nowhere", From: saturday, Days: 1, Now: time.Now()})
	require.Equal(t, models.CodeNotFound, models.CodeOf(err))
	require.ErrorContains(t, err, "set the shop up first")
	for _, days := range []int{0, -1, 15} {
		_, err = facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: saturday, Days: days, Now: time.Now()})
		require.Equal(t, models.CodeInvalid, models.CodeOf(err))
		require.ErrorContains(t, err, "/days")
	}
	r := gather(t, s, clock(saturday, 6, 30))
	require.Empty(t, r.Demand)
	require.Empty(t, r.Forecast, "no counts and no word: no rows")
	require.EqualValues(t, 1, r.Seed)
}

func TestTheForecastIsTheMeanOfTheSameWeekday(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	mapped(t, s, "GLASS", "glass", 1)
	mapped(t, s, "GLASS L", "glass", 2)
	mapped(t, s, "TONIC", "tonic", 1)
	for k := 1; k <= 10; k++ { // two weeks more than are looked at
		d := saturday.AddDays(-7 * k)
		sold(t, s, "GLASS", clock(d, 8, 0), 15, float64(k))
		sold(t, s, "GLASS L", clock(d, 11, 45), 30, 2) // half of it at midday
		sold(t, s, "CAKE", clock(d, 9, 0), 15, 50)     // nobody mapped it
		sold(t, s, "GLASS", clock(d.AddDays(1), 8, 0), 15, 100)
	}
	sold(t, s, "TONIC", clock(saturday.AddDays(-21), 16, 0), 15, 6) // new on the menu three weeks ago
	closed := saturday.AddDays(-7 * 4)
	require.NoError(t, s.PutEvents(ctx, kiosk, []models.Event{
		{From: clock(closed, 0, 0), To: clock(closed, 24, 0), Name: "works", Closed: true, Factor: 1},
		{From: clock(saturday.AddDays(-7), 15, 0), To: clock(saturday.AddDays(-7), 19, 0), Name: "fair", Factor: 2}}))
	out := saturday.AddDays(-7 * 8)
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "glass", From: clock(out, 9, 0), To: new(clock(out, 10, 0))}}))

	r := gather(t, s, clock(saturday, 6, 30))
	rows := map[string]models.Forecast{}
	for _, f := range r.Forecast {
		require.Equal(t, saturday, f.Date)
		rows[f.DayPart+" "+f.Drink] = f
	}
	require.Len(t, rows, 6)
	// Morning: k of each week, 2 of a large glass twice; without the week of the works (4). The hour off sale eight weeks ago is one in
	// which nothing is ever sold: only the fifth that does not follow the curve is missing for it.
	require.InDelta(t, (1+2+3+5+6+7+6*2+10/(1-.2/4))/7.0, rows["morning glass"].Mean, 1e-9)
	require.InDelta(t, 2, rows["midday glass"].Mean, 1e-9, "off sale in the morning only; closed the whole day")
	require.InDelta(t, 0, rows["afternoon glass"].Mean, 1e-9, "open and nothing sold counts as none")
	require.InDelta(t, 6/3.0, rows["afternoon tonic"].Mean, 1e-9, "not before it was on the menu")
	f := rows["morning glass"]
	require.Contains(t, f.Basis, "the last 7 Saturdays")
	require.Contains(t, f.Basis, "no forecast yet")
	require.Len(t, f.Quantiles, len(f.Levels))
	require.Greater(t, f.Quantiles[len(f.Quantiles)-1], f.Mean)

	r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: saturday.AddDays(-7), Days: 9, Now: clock(saturday.AddDays(-7), 7, 0)})
	require.NoError(t, err)
	for _, f := range r.Forecast {
		if f.Drink == "glass" && f.DayPart == "morning" && f.Date == saturday.AddDays(-6) {
			require.InDelta(t, 100, f.Mean, 1e-9, "Sundays")
		}
		require.Contains(t, []time.Weekday{time.Saturday, time.Sunday}, f.Date.Weekday(), "no other day was counted")
		if f.Date == saturday {
			require.NotContains(t, f.Basis, "5–", "what lies after now is not known")
		}
	}
}

func TestAFestivalOfThePastIsTakenOut(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	mapped(t, s, "GLASS", "glass", 1)
	fair := saturday.AddDays(-7)
	sold(t, s, "GLASS", clock(fair, 15, 0), 240, 40)
	sold(t, s, "GLASS", clock(saturday.AddDays(-14), 15, 0), 240, 24)
	require.NoError(t, s.PutEvents(ctx, kiosk, []models.Event{{From: clock(fair, 15, 0), To: clock(fair, 17, 0), Name: "fair", Factor: 3}}))
	for _, f := range gather(t, s, clock(saturday, 6, 30)).Forecast {
		if f.DayPart == "afternoon" {
			require.InDelta(t, (40/2.0+24)/2, f.Mean, 1e-9, "two of four hours at three times the demand: twice as much in all")
		}
	}
}

func TestExpectedDemandIsGathered(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	word := func(date models.Date, part, drink string, n float64) models.ExpectedDemand {
		return models.ExpectedDemand{Date: date, DayPart: part, Drink: drink, Expected: &n, P10: new(n / 2), P90: new(n * 2)}
	}
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{word(saturday, "midday", "glass", 40), word(saturday.AddDays(1), "midday", "glass", 50),
		word(saturday, "midnight", "glass", 1), word(saturday, "midday", "withdrawn", 1)}, time.Now()))
	r := gather(t, s, clock(saturday, 6, 30))
	require.Equal(t, []models.Demand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: 40, P10: new(20.0), P90: new(80.0)}}, r.Demand,
		"of this day, and of what the shop still has")
}

func TestWeatherEventsAndEquipmentAreThoseOfThePlan(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	now := clock(saturday, 10, 0)
	hours := func(temp float64) (list []models.WeatherHour) {
		for h := range 30 {
			list = append(list, models.WeatherHour{At: clock(saturday, h, 0), TempC: temp})
		}
		return list
	}
	require.NoError(t, s.PutWeather(ctx, kiosk, models.WeatherPost{Kind: "forecast", IssuedAt: clock(saturday, 8, 0), Hours: hours(33)}))
	require.NoError(t, s.PutWeather(ctx, kiosk, models.WeatherPost{Kind: "forecast", IssuedAt: clock(saturday, 11, 0), Hours: hours(20)}))
	require.NoError(t, s.PutEvents(ctx, kiosk, []models.Event{{From: clock(saturday, 9, 0), To: clock(saturday, 14, 0), Name: "race", Factor: 1.5},
		{From: clock(saturday.AddDays(-1), 9, 0), To: clock(saturday.AddDays(-1), 14, 0), Name: "yesterday", Factor: 1.5}}))
	require.NoError(t, s.PutOutages(ctx, kiosk, []models.Outage{{Kind: "brewer", Code: "left", From: clock(saturday, 9, 0), To: clock(saturday, 12, 0)},
		{Kind: "brewer", Code: "sold long ago", From: clock(saturday, 9, 0), To: clock(saturday, 12, 0)},
		{Kind: "tank", From: clock(saturday, 8, 0), To: clock(saturday, 10, 0)}}))
	require.NoError(t, s.PutAttention(ctx, kiosk, []models.Attention{{From: clock(saturday, 12, 0), To: clock(saturday, 14, 0)}}))
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, now))
	r := gather(t, s, now)
	require.Len(t, r.Weather, 24, "of the day, from its start: the hottest hours stand for missing ones")
	require.Equal(t, 33.0, r.Weather[23].TempC, "as known at ten")
	require.True(t, r.WeatherIssuedAt.Equal(clock(saturday, 8, 0)))
	require.Len(t, r.Events, 1)
	require.Equal(t, "race", r.Events[0].Name)
	require.Len(t, r.Outages, 1, "over, or of something that is gone: left out")
	require.Equal(t, "left", r.Outages[0].Code)
	require.Len(t, r.Attention, 1)

	early := gather(t, s, clock(saturday, 6, 0))
	require.NotEmpty(t, early.Weather, "a clock before every forecast takes what there is")
}

func TestSoldTodayIncludesZerosUnlessOffSale(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	mapped(t, s, "GLASS", "glass", 1)
	mapped(t, s, "TONIC", "tonic", 1)
	sold(t, s, "GLASS", clock(saturday, 11, 30), 60, 10) // half an hour each side of twelve
	sold(t, s, "GLASS", clock(saturday, 12, 30), 15, 5)
	sold(t, s, "CAKE", clock(saturday, 12, 45), 15, 9)
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))
	row := func(part, drink string, n float64, until time.Time) models.Sold {
		return models.Sold{Date: saturday, DayPart: part, Drink: drink, Count: n, Until: until}
	}
	same := func(want, got []models.Sold) {
		t.Helper()
		require.Len(t, got, len(want))
		for i := range want {
			require.True(t, want[i].Until.Equal(got[i].Until), "%v: until %v", want[i], got[i].Until)
			got[i].Until = want[i].Until
			require.Equal(t, want[i], got[i])
		}
	}
	noon, one := clock(saturday, 12, 0), clock(saturday, 13, 0)
	same([]models.Sold{row("morning", "glass", 5, noon), row("morning", "tonic", 0, noon), row("midday", "glass", 10, one), row("midday", "tonic", 0, one)},
		gather(t, s, clock(saturday, 13, 20)).Sold)
	half := clock(saturday, 12, 15)
	same([]models.Sold{row("morning", "glass", 5, noon), row("morning", "tonic", 0, noon), row("midday", "glass", 2.5, half), row("midday", "tonic", 0, half)},
		gather(t, s, half).Sold)
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "tonic", From: clock(saturday, 11, 59)}}))
	same([]models.Sold{row("morning", "glass", 5, noon), row("morning", "tonic", 0, clock(saturday, 11, 59)), row("midday", "glass", 10, one)},
		gather(t, s, clock(saturday, 13, 20)).Sold)
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "glass", From: clock(saturday, 12, 30), To: new(clock(saturday, 12, 40))}}))
	require.Equal(t, row("midday", "glass", 5, clock(saturday, 12, 30).UTC()), gather(t, s, clock(saturday, 13, 20)).Sold[2], "what it took before it was gone")
	require.Empty(t, gather(t, s, clock(saturday.AddDays(-1), 13, 0)).Sold, "the day before")
}

func TestADayMayEndAfterMidnight(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, func(u *models.Setup) {
		for i := range u.Site.Opening {
			u.Site.Opening[i].To = "01:00"
		}
		u.Site.DayParts = append(u.Site.DayParts, models.DayPart{Code: "night", From: "22:00", To: "01:00"})
	})
	mapped(t, s, "GLASS", "glass", 1)
	// The last week's night is the one in which summer time ends elsewhere; here clocks go forward on 2026-03-29.
	change := models.Date("2026-03-28")
	for k := 1; k <= 2; k++ {
		sold(t, s, "GLASS", change.AddDays(-7*k).At(24*60+30, berlin), 15, 8)
	}
	r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: change, Days: 2, Now: clock(change, 9, 0)})
	require.NoError(t, err)
	require.NoError(t, r.Validate())
	for _, f := range r.Forecast {
		if f.DayPart == "night" {
			require.Equal(t, change, f.Date, "the night belongs to the day that it began on")
			require.InDelta(t, 8, f.Mean, 1e-9)
		}
	}
	sold(t, s, "GLASS", change.At(24*60+15, berlin), 15, 3)
	r, err = facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: change, Days: 2, Now: change.At(24*60+40, berlin)})
	require.NoError(t, err)
	n := 0.0
	for _, x := range r.Sold {
		require.Equal(t, change, x.Date)
		n += x.Count
	}
	require.Equal(t, 3.0, n)
}

func TestStockIsAsCountedAndChangedSince(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	mapped(t, s, "GLASS", "glass", 1)
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))

	r := gather(t, s, clock(saturday, 10, 0))
	require.Equal(t, 9000.0, r.Ice.OpeningG, "never counted: as set up")

	at := func(h, m int) time.Time { return clock(saturday, h, m) }
	require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at(8, 0), IceG: new(7000.0), PlainIceG: new(3000.0), TankL: new(99.0),
		Beverages: []models.Stock{{Beverage: "flash", G: 3000, MadeAt: at(7, 30)}, {Beverage: "flash", G: 500, MadeAt: at(6, 0)}},
		Lots:      []models.LotCount{{Lot: "ridge-1", Grams: 200, Place: "freezer"}, {Lot: "gone", Grams: 1, Place: "shelf"}}}, at(8, 1)))
	require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at(9, 0), TankL: new(41.0)}, at(9, 1)))
	require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at(18, 0), IceG: new(1.0)}, at(18, 1)))
	require.NoError(t, s.AddStockChanges(ctx, kiosk, []models.StockChange{
		{Kind: "bought_in", IceG: new(10000.0), At: at(9, 30)}, {Kind: "discarded", IceG: new(400.0), At: at(9, 40)}, {Kind: "bought_in", IceG: new(5000.0), At: at(7, 0)},
		{Kind: "made", Beverage: new("flash"), G: new(900.0), At: at(9, 0)}, {Kind: "discarded", Beverage: new("flash"), G: new(100.0), At: at(9, 5)}}, at(9, 45)))
	sold(t, s, "GLASS", at(7, 45), 30, 4) // half before the count: two glasses of 180 g after it
	sold(t, s, "GLASS", at(9, 50), 20, 2) // half before now

	r = gather(t, s, at(10, 0))
	moved, made, served := 7000.0+10000-400, 0.0, 3*r.Drinks[0].ServingIceG
	for _, m := range r.Ice.Makers {
		if m.Treated {
			made += m.KgPerDayRated * 1000 / 12
		}
	}
	require.Positive(t, made*served)
	require.Less(t, r.Ice.OpeningG, moved+made-served, "makers have run, no better than rated, three glasses were served, and it melts")
	require.Greater(t, r.Ice.OpeningG, moved-served+made/2-moved*2*r.Ice.BinLossPctPH/100)
	require.True(t, r.Ice.CountedAt.Equal(at(8, 0)), "the count of 18:00 is not known yet")
	require.Equal(t, 3000.0, r.Ice.Plain.OpeningG)
	require.True(t, r.Ice.Plain.CountedAt.Equal(at(8, 0)))
	require.Equal(t, 41.0, r.Water.OpeningL)
	lot := r.Coffees[0].Lots[0]
	require.Equal(t, 200.0, lot.Grams)
	require.Equal(t, "freezer", lot.Place)
	require.Equal(t, 200.0, lot.OpenG, "no more open than there is")
	require.Equal(t, saturday, *lot.FrozenOn)
	stockIs(t, map[time.Time]float64{at(6, 0): 0, at(7, 30): 3000 - (2*180 + 100 + 180 - 500), at(9, 0): 900}, r.Stock)

	require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at(10, 30), Beverages: []models.Stock{{Beverage: "flash", G: 700, MadeAt: at(9, 0)}}}, at(10, 30)))
	r = gather(t, s, at(10, 45))
	stockIs(t, map[time.Time]float64{at(9, 0): 700}, r.Stock)
	require.True(t, r.Ice.CountedAt.Equal(at(8, 0)), "only beverages were counted")
}

func stockIs(t testing.TB, want map[time.Time]float64, got []models.Stock) {
	t.Helper()
	g := map[time.Time]float64{}
	for _, s := range got {
		g[s.MadeAt.UTC()] += s.G
	}
	w := map[time.Time]float64{}
	for at, grams := range want {
		w[at.UTC()] = grams
	}
	require.InDeltaMapValues(t, w, g, 1e-9)
}

// brewTask is a batch of 4 kg that is ready half an hour after its start.
func brewTask(id string, start time.Time) models.Task {
	return models.Task{ID: id, At: start, Station: "left", Kind: models.TaskBrew, State: models.Due, Batch: &models.BatchTask{ID: id, Date: saturday,
		Brewer: "left", Beverage: "flash", Start: start, Ready: start.Add(30 * time.Minute), UseBy: start.Add(8 * time.Hour), BeverageG: 4000}}
}

func publish(t testing.TB, s models.Store, revision int, date models.Date, tasks ...models.Task) {
	t.Helper()
	require.NoError(t, s.PutSheets(ctx, kiosk, []models.PrepSheet{{Date: date, Revision: revision, PublishedAt: clock(date, 6, 0), Tasks: tasks}}))
}

func marked(t testing.TB, s models.Store, task, state string, at time.Time, grams *float64) {
	t.Helper()
	_, err := s.AddMark(ctx, kiosk, models.TaskMark{Task: task, State: state, At: at, Key: fmt.Sprint(task, state, at), BeverageG: grams}, at)
	require.NoError(t, err)
}

func TestTasksUnderWayAreKept(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	at := func(h, m int) time.Time { return clock(saturday, h, m) }
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))
	fill := models.Task{ID: "fill", At: at(8, 0), Station: "blocks", Kind: models.TaskIceFill, Quota: &models.IceQuota{Date: saturday, Maker: "blocks", MakeG: 2000,
		Loads: []models.IceLoad{{FillAt: at(8, 0), TakeAt: at(14, 0), G: 2000}}}}
	take := fill
	take.ID, take.Kind, take.At = "take", models.TaskIceTake, at(14, 0)
	draw := models.Task{ID: "draw", At: at(8, 0), Station: "water", Kind: models.TaskWaterDraw, Draw: &models.WaterDraw{Date: saturday, DrawL: 30}}
	pull := models.Task{ID: "pull", At: at(7, 0), Station: "beans", Kind: models.TaskPull, Pull: &models.BeanPull{Date: saturday, Coffee: "ridge", Lot: "ridge-1", G: 1000}}
	publish(t, s, 1, saturday, brewTask("b1", at(8, 0)), brewTask("b2", at(9, 0)), brewTask("b3", at(10, 0)), brewTask("b4", at(11, 0)), fill, take, draw, pull)
	marked(t, s, "b1", models.Started, at(8, 10), nil)
	marked(t, s, "b1", models.Made, at(8, 38), new(3900.0))
	marked(t, s, "b2", models.Started, at(9, 50), nil)
	marked(t, s, "b3", models.Started, at(9, 55), nil)
	marked(t, s, "b3", models.Due, at(9, 56), nil)
	marked(t, s, "b4", models.Skipped, at(9, 57), nil)
	marked(t, s, "fill", models.Made, at(8, 5), nil)
	marked(t, s, "draw", models.Made, at(8, 6), nil)
	marked(t, s, "pull", models.Made, at(7, 2), nil)
	marked(t, s, "take", models.Made, at(16, 0), nil)
	publish(t, s, 2, saturday, brewTask("b1", at(8, 0))) // the newer sheet forgot the others

	r := gather(t, s, at(10, 0))
	by := map[string]models.UnderWay{}
	for _, u := range r.UnderWay {
		by[u.Task] = u
	}
	require.Len(t, by, 5, "%v", r.UnderWay)
	require.Equal(t, models.Made, by["b1"].State)
	require.True(t, by["b1"].Start.Equal(at(8, 10)))
	require.Equal(t, 3900.0, *by["b1"].BeverageG)
	require.Equal(t, "left", *by["b1"].Brewer)
	require.Equal(t, models.Started, by["b2"].State)
	require.True(t, by["b2"].Start.Equal(at(9, 50)), "later than planned")
	require.Equal(t, 4000.0, *by["b2"].BeverageG)
	require.Equal(t, "blocks", *by["fill"].Mould)
	require.Equal(t, 2000.0, *by["fill"].G)
	require.Equal(t, 30.0, *by["draw"].L)
	require.Equal(t, "ridge-1", *by["pull"].Lot)
	stockIs(t, map[time.Time]float64{at(8, 38): 3900}, r.Stock)

	require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at(9, 0), IceG: new(5000.0)}, at(9, 0)))
	r = gather(t, s, at(16, 30))
	require.Equal(t, 7000.0, r.Ice.OpeningG, "with the load taken at four")
}

func TestUnmarkedTasksCountAsDoneOnTime(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	at := func(h, m int) time.Time { return clock(saturday, h, m) }
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))
	brew := func(id string, h int) models.Task {
		b := brewTask(id, at(h, 0))
		b.Until, b.Mark = at(h, 5), true
		return b
	}
	pull := models.Task{ID: "pull", At: at(7, 0), Until: at(7, 2), Station: "beans", Kind: models.TaskPull,
		Pulls: []models.BeanPull{{Date: saturday, Coffee: "ridge", Lot: "ridge-1", G: 1000}, {Date: saturday, Coffee: "ridge", Lot: "ridge-2", G: 400}}}
	old := brewTask("old", at(7, 0)) // of a version that did not say when tasks end
	publish(t, s, 1, saturday, brew("b1", 8), brew("b2", 9), brew("b3", 10), brew("b4", 11), pull, old)
	marked(t, s, "b2", models.Made, at(9, 40), new(3000.0))
	marked(t, s, "b2", models.Due, at(9, 41), nil)

	by := map[string]string{}
	r := gather(t, s, at(10, 10))
	for _, u := range r.UnderWay {
		by[u.Task+" "+u.Kind] += u.State + " "
	}
	require.Equal(t, map[string]string{"b1 brew": "made ", "b3 brew": "started ", "pull pull": "made made "}, by, "what was undone is due, what lies ahead too")
	stockIs(t, map[time.Time]float64{at(8, 30): 4000}, r.Stock)
}

func TestACorrectedMarkChangesTheStock(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	at := func(h, m int) time.Time { return clock(saturday, h, m) }
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))
	publish(t, s, 1, saturday, brewTask("b1", at(8, 0)))
	marked(t, s, "b1", models.Made, at(9, 30), new(4900.0))
	_, err := s.AddMark(ctx, kiosk, models.TaskMark{Task: "b1", State: models.Made, At: at(8, 25), Key: "right", BeverageG: new(3900.0), Corrects: true}, at(9, 50))
	require.NoError(t, err)
	stockIs(t, map[time.Time]float64{at(8, 25): 3900}, gather(t, s, at(10, 0)).Stock)
}

func TestABatchIsNotCountedTwice(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	mapped(t, s, "GLASS", "glass", 1)
	at := func(h, m int) time.Time { return clock(saturday, h, m) }
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))
	publish(t, s, 1, saturday, brewTask("b1", at(8, 0)), brewTask("b2", at(9, 0)))
	marked(t, s, "b1", models.Started, at(8, 0), nil)
	marked(t, s, "b1", models.Made, at(11, 55), nil) // nobody thought of it before
	marked(t, s, "b2", models.Started, at(11, 50), nil)
	sold(t, s, "GLASS", at(8, 0), 15, 3)   // before the batch was ready: of something else
	sold(t, s, "GLASS", at(11, 0), 30, 10) // 1,800 g

	r := gather(t, s, at(12, 0))
	stockIs(t, map[time.Time]float64{at(8, 30): 4000 - 1800}, r.Stock)
	require.Len(t, r.UnderWay, 2)
	require.InDelta(t, 4000-1800, stockPlanned(t, r), 1, "b1 is in the cold store once, b2 is not ready")

	require.NoError(t, s.AddStockCount(ctx, kiosk, models.StockCount{CountedAt: at(11, 58), Beverages: []models.Stock{{Beverage: "flash", G: 2500, MadeAt: at(9, 5)}}}, at(12, 0)))
	r = gather(t, s, at(12, 0))
	stockIs(t, map[time.Time]float64{at(8, 30): 0, at(9, 5): 2500}, r.Stock)
	require.InDelta(t, 2500, stockPlanned(t, r), 1, "what was counted is all there is")
}

// stockPlanned is the cold stock that a plan of the request begins with.
func stockPlanned(t testing.TB, r models.PlanRequest) float64 {
	t.Helper()
	r.Demand = []models.Demand{{Date: saturday, DayPart: "afternoon", Drink: "glass", Expected: 1}} // nothing sells before the first point
	p, err := planner.ComputeWithoutFixes(ctx, r)
	require.NoError(t, err)
	require.NotEmpty(t, p.Stock)
	return p.Stock[0].G
}

func TestASteepedBatchIsUnderWayUntilItIsStrained(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, func(u *models.Setup) {
		b := u.Beverages[0]
		b.Code, b.Method, b.SteepH, b.IceShare, b.BrewerOutTempC, b.Bath = "steeped", models.Steeped, new(14.0), 0, 20, false
		u.Beverages = append(u.Beverages, b)
		u.Brewers[0].Beverages = append(u.Brewers[0].Beverages, "steeped")
	})
	require.NoError(t, s.PutExpectedDemand(ctx, kiosk, []models.ExpectedDemand{{Date: saturday, DayPart: "midday", Drink: "glass", Expected: new(1.0)}}, time.Now()))
	evening := clock(saturday.AddDays(-1), 18, 0)
	b := brewTask("s1", evening)
	b.Batch.Beverage, b.Batch.StrainAt, b.Batch.Ready = "steeped", evening.Add(14*time.Hour), evening.Add(14*time.Hour+30*time.Minute)
	strain := b
	strain.ID, strain.Kind, strain.At = "s1-strain", models.TaskStrain, b.Batch.StrainAt
	publish(t, s, 1, saturday, b, strain)
	marked(t, s, "s1", models.Made, evening.Add(10*time.Minute), nil)

	r := gather(t, s, clock(saturday, 7, 0))
	require.Len(t, r.UnderWay, 1)
	require.Equal(t, models.Started, r.UnderWay[0].State, "it steeps")
	require.Empty(t, r.Stock)

	marked(t, s, "s1-strain", models.Made, clock(saturday, 8, 35), new(3700.0))
	r = gather(t, s, clock(saturday, 9, 0))
	require.Equal(t, models.Made, r.UnderWay[0].State)
	stockIs(t, map[time.Time]float64{clock(saturday, 8, 30): 3700}, r.Stock)
}

func TestGatherIsTheSameTwice(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	for i, item := range []string{"A", "B", "C", "D"} {
		mapped(t, s, item, "glass", 1)
		for k := 1; k <= 8; k++ {
			sold(t, s, item, clock(saturday.AddDays(-7*k), 9, 0), 15, float64(i+k))
		}
	}
	first, err := json.Marshal(gather(t, s, clock(saturday, 9, 0)))
	require.NoError(t, err)
	for range 3 {
		again, err := json.Marshal(gather(t, s, clock(saturday, 9, 0)))
		require.NoError(t, err)
		require.Equal(t, string(first), string(again))
	}
}

// BenchmarkGather reads two days of a shop with 12 drinks and 17 weeks of quarter-hourly counts.
func BenchmarkGather(b *testing.B) {
	s, _ := shopOf(b, func(u *models.Setup) {
		for i := range 10 {
			u.Drinks = append(u.Drinks, models.Drink{Code: fmt.Sprint("d", i), Uses: []models.Use{{Beverage: "flash", G: 100}}})
		}
	})
	mapped(b, s, "GLASS", "glass", 1)
	mapped(b, s, "TONIC", "tonic", 1)
	for i := range 10 {
		mapped(b, s, fmt.Sprint("D", i), fmt.Sprint("d", i), 1)
	}
	for day := 1; day <= 17*7; day++ {
		p := models.SalesPost{Source: "till"}
		for q := range 44 {
			from := clock(saturday.AddDays(-day), 8, 15*q)
			for _, item := range []string{"GLASS", "TONIC", "D0", "D1", "D2", "D3", "D4", "D5", "D6", "D7", "D8", "D9"} {
				p.Counts = append(p.Counts, models.SalesCount{Item: item, WindowStart: from, WindowEnd: from.Add(15 * time.Minute), Count: float64((day + q) % 5)})
			}
		}
		_, err := s.PutCounts(ctx, kiosk, p, time.Now(), "", "")
		require.NoError(b, err)
	}
	b.ResetTimer()
	for b.Loop() {
		r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: kiosk, From: saturday, Days: 2, Now: clock(saturday, 7, 0)})
		if err != nil || len(r.Forecast) != 2*3*12 {
			b.Fatal(len(r.Forecast), err)
		}
	}
}
