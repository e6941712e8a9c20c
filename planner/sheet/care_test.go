package sheet

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// careShop opens every day from 8 to 18 with an hour of set-up; its plan is for the sheet's date, made the afternoon before.
func careShop(c ...models.Care) (models.PlanRequest, models.Plan) {
	r := sheetRequest()
	r.Site.SetupMin, r.Site.People, r.Site.Care, r.Weather = 60, nil, c, nil
	r.Site.Opening = nil
	for _, day := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		r.Site.Opening = append(r.Site.Opening, models.Opening{Weekday: day, From: "08:00", To: "18:00"})
	}
	p := sheetPlan()
	p.ComputedAt = sheetDate.AddDays(-1).At(15*60, r.Site.Location())
	return r, p
}

func clean(t *testing.T, r models.PlanRequest, p models.Plan, previous ...models.PrepSheet) []models.Task {
	t.Helper()
	return tasksOf(oneSheet(t, r, p, previous...), models.TaskClean)
}

func TestDailyCareIsOnTheEveningOfNowAndOnEachDay(t *testing.T) {
	t.Parallel()
	r, p := careShop(models.Care{Code: "rinse", Name: "Rinse the brewer", Station: "left", At: "17:30", Min: 10})
	tasks := clean(t, r, p)
	require.Len(t, tasks, 2)
	first := tasks[0]
	assert.True(t, first.At.Equal(sheetDate.AddDays(-1).At(17*60+30, r.Site.Location())))
	assert.Equal(t, 10*time.Minute, first.Until.Sub(first.At))
	assert.Equal(t, []any{"left", "Rinse the brewer", 1, models.Due}, []any{first.Station, first.Say, first.Hands, first.State})
	assert.Equal(t, &models.CareTask{Code: "rinse", Name: "Rinse the brewer", Due: sheetDate.AddDays(-1)}, first.Care)
	assert.Equal(t, "Every day. Not marked as done yet.", first.Why)
	assert.Equal(t, "Every day.", tasks[1].Why)
	r.Site.Care[0].LastDone = new(sheetDate.AddDays(-1))
	assert.Len(t, clean(t, r, p), 1, "today's is done")
}

func TestCareComesWhenItsDaysAreOverAndSaysHowLate(t *testing.T) {
	t.Parallel()
	r, p := careShop(models.Care{Code: "descale", Name: "Descale", EveryDays: 7, At: "09:00", Min: 15, LastDone: new(sheetDate.AddDays(-7))})
	tasks := clean(t, r, p)
	require.Len(t, tasks, 1)
	assert.Equal(t, "Descale", tasks[0].Say)
	assert.Contains(t, tasks[0].Why, "Every 7 days, last done ")
	assert.Equal(t, sheetDate, tasks[0].Care.Due)
	r.Site.Care[0].LastDone = new(sheetDate.AddDays(-6))
	assert.Empty(t, clean(t, r, p), "not before")
	r.Site.Care[0].LastDone = new(sheetDate.AddDays(-9))
	tasks = clean(t, r, p)
	require.Len(t, tasks, 1)
	assert.Equal(t, "Descale (overdue)", tasks[0].Say)
	assert.Contains(t, tasks[0].Why, "It was due ")
	assert.Equal(t, sheetDate.AddDays(-2), tasks[0].Care.Due)
	r.Site.Care[0].LastDone = nil
	assert.Len(t, clean(t, r, p), 1, "nobody knows when it was done")
}

func TestWeeklyCareIsOnItsWeekdayOrTheNextDayThatPeopleAreThere(t *testing.T) {
	t.Parallel()
	day := sheetDate.Weekday()
	names := []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}
	r, p := careShop(models.Care{Code: "bin", Name: "Clean the bin", Weekday: names[day], At: "09:00", Min: 20})
	require.Len(t, clean(t, r, p), 1)
	r.Site.Care[0].Weekday = names[(day+1)%7]
	assert.Empty(t, clean(t, r, p), "tomorrow")
	r.Site.Care[0].Weekday = names[(day+6)%7]
	assert.Empty(t, clean(t, r, p), "this morning is over")
	r.Events = []models.Event{{From: sheetDate.AddDays(-1).At(0, r.Site.Location()), To: sheetDate.At(0, r.Site.Location()), Closed: true, Factor: 1}}
	tasks := clean(t, r, p)
	require.Len(t, tasks, 1, "nobody was there on its day")
	assert.True(t, tasks[0].At.Equal(sheetDate.At(9*60, r.Site.Location())))
}

func TestCareForTheHeatIsOnTheDayBeforeTheFirstHotDay(t *testing.T) {
	t.Parallel()
	r, p := careShop(models.Care{Code: "condenser", Name: "Brush the condenser", EveryDays: 90, HotC: new(30.0), At: "09:00", Min: 15, LastDone: new(sheetDate.AddDays(-40))})
	hot := func(c float64, days ...int) {
		r.Weather = nil
		for _, n := range days {
			r.Weather = append(r.Weather, models.WeatherHour{At: sheetDate.AddDays(n).At(15*60, r.Site.Location()), TempC: c})
		}
	}
	hot(29.9, 0)
	assert.Empty(t, clean(t, r, p), "not hot enough")
	hot(30, 0, 1)
	tasks := clean(t, r, p)
	require.Len(t, tasks, 1, "once for the hot spell")
	assert.True(t, tasks[0].At.Equal(sheetDate.AddDays(-1).At(15*60+15, r.Site.Location())), "its time is over: soon")
	assert.Contains(t, plain(tasks[0].Why), "Before the heat: up to 30 °C on ")
	hot(30, 1)
	tasks = clean(t, r, p)
	require.Len(t, tasks, 1)
	assert.True(t, tasks[0].At.Equal(sheetDate.At(9*60, r.Site.Location())))
	r.Site.Care[0].LastDone = new(sheetDate.AddDays(-3))
	assert.Empty(t, clean(t, r, p), "done for this heat")
}

func TestCareIsWhenPeopleAreThere(t *testing.T) {
	t.Parallel()
	r, p := careShop(models.Care{Code: "rinse", At: "23:00", Min: 30, LastDone: new(sheetDate.AddDays(-1))})
	loc := r.Site.Location()
	tasks := clean(t, r, p)
	require.Len(t, tasks, 1)
	assert.True(t, tasks[0].At.Equal(sheetDate.At(18*60+30, loc)), "done by an hour after closing")
	names := []string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}
	r.Site.People = []models.OnShift{{Weekday: names[sheetDate.Weekday()], From: "07:00", To: "17:00", OnShift: 1}}
	tasks = clean(t, r, p)
	require.Len(t, tasks, 1)
	assert.True(t, tasks[0].At.Equal(sheetDate.At(16*60+30, loc)), "before the last shift ends")
}

func TestCareOfTodayStaysOnTheSheetUntilItIsMarked(t *testing.T) {
	t.Parallel()
	r, p := careShop(models.Care{Code: "rinse", At: "09:00", Min: 10, LastDone: new(sheetDate.AddDays(-1))})
	before := oneSheet(t, r, p)
	p.ComputedAt = sheetDate.At(12*60, r.Site.Location())
	assert.Empty(t, clean(t, r, p), "a plan made at noon does not ask for the morning's")
	assert.Len(t, clean(t, r, p, before), 1, "but one that was asked for can still be marked")
}

func TestSuppliesAreGotOutBeforeOpeningWithTheirAllergens(t *testing.T) {
	t.Parallel()
	r, p := careShop()
	r.Supplies = []models.Supply{{Name: "oat drink", Unit: "ml", Pack: 1000}, {Name: "cups", Unit: "piece", Pack: 50}, {Name: "base", Unit: "g", Pack: 25_000}}
	p.Supplies = []models.SupplyNeed{
		{Date: sheetDate, Name: "oat drink", Unit: "ml", Amount: 2500, Packs: 3, KeptIn: "dry store", Allergens: []string{"gluten", "oats"}},
		{Date: sheetDate, Name: "tonic", Unit: "piece", Amount: 24, Allergens: []string{}},
		{Date: sheetDate, Name: "cups", Unit: "piece", Amount: 61, Packs: 2},
		{Date: sheetDate.AddDays(1), Name: "cups", Unit: "piece", Amount: 99, Packs: 2},
	}
	tasks := tasksOf(oneSheet(t, r, p), models.TaskGet)
	require.Len(t, tasks, 1)
	get := tasks[0]
	assert.Equal(t, "Get out: 3 packs of oat drink (2.5 L) [gluten, oats] from the dry store, 24 tonic, 2 packs of cups (61).", plain(get.Say))
	assert.Equal(t, p.Supplies[:3], get.Supplies)
	assert.True(t, get.At.Equal(sheetDate.At(7*60+30, r.Site.Location())))
	assert.Equal(t, 2*time.Minute, get.Until.Sub(get.At))
	assert.Equal(t, 1, get.Hands)
	r.Site.SetupMin = 10
	get = tasksOf(oneSheet(t, r, p), models.TaskGet)[0]
	assert.True(t, get.At.Equal(sheetDate.At(7*60+50, r.Site.Location())), "nobody is there earlier")
	p.Supplies = append(p.Supplies, models.SupplyNeed{Date: sheetDate, Name: "base", Unit: "g", Amount: 20_000, Packs: 1})
	assert.Equal(t, 2, tasksOf(oneSheet(t, r, p), models.TaskGet)[0].Hands, "a bag of 25 kg")
	p.ComputedAt = sheetDate.At(12*60, r.Site.Location())
	assert.Empty(t, tasksOf(oneSheet(t, r, p), models.TaskGet), "the morning is over")
}
