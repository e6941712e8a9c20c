package web

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

func TestSplitKeepsTheDaysTotal(t *testing.T) {
	t.Parallel()
	assert.Equal(t, []float64{33, 34, 33}, splitWhole(100, []float64{1, 1.02, 1}))
	assert.Equal(t, []float64{0, 1, 0}, splitWhole(1, []float64{1, 2, 1}))
	assert.Equal(t, []float64{3.8, 3.7}, splitWhole(7.5, []float64{1, 1}))
	rapid.Check(t, func(t *rapid.T) {
		total := float64(rapid.IntRange(0, 5000).Draw(t, "total"))
		weights := rapid.SliceOfN(rapid.Float64Range(0, 1000), 1, 8).Draw(t, "weights")
		if models.Sum(weights) == 0 {
			return
		}
		parts := splitWhole(total, weights)
		require.InDelta(t, total, models.Sum(parts), 1e-9)
		for i, n := range parts {
			require.InDelta(t, total*weights[i]/models.Sum(weights), n, 1, "no part is more than one off its share")
			require.GreaterOrEqual(t, n, 0.0)
		}
	})
}

func TestADaysNumberIsSplitAsTheForecastIs(t *testing.T) {
	t.Parallel()
	day := demandDays(saturdayState(t))[0]
	r := day.Rows[0]
	assert.Equal(t, "80", r.Total, "20 by the forecast and 60 of the manager's")
	assert.True(t, r.Manual)
	rows, wrong := day.typed(url.Values{"t/" + r.Drink: {"108"}, "was/" + r.Drink: {"80"}}, voice{})
	require.Empty(t, wrong)
	require.Len(t, rows, 2)
	assert.InDelta(t, 40, *rows[0].Expected, 1e-9, "20 of 54 in the forecast")
	assert.InDelta(t, 68, *rows[1].Expected, 1e-9)
	before := day.present(rows)
	assert.Nil(t, before[0].Expected)
	assert.InDelta(t, 60, *before[1].Expected, 1e-9)
	assert.Equal(t, "street fair", before[1].Note, "undoing brings back the whole row")

	rows, _ = day.typed(url.Values{"t/" + r.Drink: {"80"}, "was/" + r.Drink: {"80"}}, voice{})
	assert.Empty(t, rows, "nothing was changed")
	rows, _ = day.typed(url.Values{"t/" + r.Drink: {""}, "was/" + r.Drink: {"80"}}, voice{})
	require.Len(t, rows, 2)
	assert.Nil(t, rows[0].Expected, "empty: the forecast again")
}

func TestCopiedDayHasTheSameNumbers(t *testing.T) {
	t.Parallel()
	setup := request(t).Setup
	for _, o := range setup.Site.Opening { // Sundays like Saturdays
		if o.Weekday == "sat" {
			o.Weekday = "sun"
			setup.Site.Opening = append(setup.Site.Opening, o)
		}
	}
	n := 12.0
	expected := []models.ExpectedDemand{
		{Date: "2026-07-11", DayPart: setup.Site.DayParts[0].Code, Drink: setup.Drinks[0].Code, Expected: &n},
		{Date: "2026-07-11", DayPart: setup.Site.DayParts[1].Code, Drink: setup.Drinks[0].Code, Expected: &n}}
	days := emptyDemandDays(setup, expected, "2026-07-11", 2)
	require.Len(t, days, 2)
	assert.Equal(t, "24", days[0].Rows[0].Total)
	assert.Empty(t, days[1].Rows[0].Total)
	rows := days[1].copied(&days[0])
	sum := 0.0
	for _, x := range rows {
		assert.Equal(t, models.Date("2026-07-12"), x.Date)
		assert.Equal(t, setup.Drinks[0].Code, x.Drink, "drinks without a number are left alone")
		sum += *x.Expected
	}
	assert.InDelta(t, 24, sum, 1e-9)
	assert.Equal(t, "2026-07-11", string(days[1].Others[0].Date))
}

// Without a forecast, a day's number goes by how long the parts are, whichever way the site writes its times.
func TestAFirstDaysNumberIsSplitByThePartsHours(t *testing.T) {
	t.Parallel()
	for _, clock := range []string{"24h", models.Clock12} {
		setup := request(t).Setup
		setup.Site.DayParts = []models.DayPart{{Code: "early", From: "08:00", To: "10:00"}, {Code: "late", From: "10:00", To: "18:00"}}
		setup.Site.Opening = []models.Opening{{Weekday: "sat", From: "08:00", To: "18:00"}}
		units := setup.Site.Shown()
		units.Clock = clock
		setup.Site.Units = &units
		day := emptyDemandDays(setup, nil, "2026-07-11", 1)[0]
		drink := setup.Drinks[0].Code
		rows, wrong := day.typed(url.Values{"t/" + drink: {"100"}, "was/" + drink: {""}}, voice{})
		require.Empty(t, wrong)
		require.Len(t, rows, 2)
		assert.InDelta(t, 20, *rows[0].Expected, 1e-9, "clock %q", clock)
		assert.InDelta(t, 80, *rows[1].Expected, 1e-9, "clock %q", clock)
	}
}
