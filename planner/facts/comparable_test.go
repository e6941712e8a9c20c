package facts_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"

	"hotday/planner/facts"
)

func TestComparableDaysAreTheNewestEightThatSaySomething(t *testing.T) {
	t.Parallel()
	s, setup := shopOf(t, nil)
	mapped(t, s, "GLASS", "glass", 2)
	mapped(t, s, "TONIC", "tonic", 1)
	for k := 1; k <= 12; k++ {
		d := saturday.AddDays(-7 * k)
		if k != 5 { // nothing was counted on that Saturday
			sold(t, s, "GLASS", clock(d, 9, 0), 15, float64(k))
		}
		sold(t, s, "GLASS", clock(d.AddDays(1), 9, 0), 15, 100)
	}
	sold(t, s, "TONIC", clock(saturday.AddDays(-14), 16, 0), 15, 6) // new on the menu two weeks ago
	closed, out, fair := saturday.AddDays(-7*3), saturday.AddDays(-7*4), saturday.AddDays(-7)
	require.NoError(t, s.PutEvents(ctx, kiosk, []models.Event{
		{From: clock(closed, 0, 0), To: clock(closed, 24, 0), Name: "works", Closed: true, Factor: 1},
		{From: clock(fair, 9, 0), To: clock(fair, 10, 0), Name: "fair", Factor: 2}}))
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "glass", From: clock(out, 9, 0), To: new(clock(out, 10, 0))}}))
	require.NoError(t, s.PutWeather(ctx, kiosk, models.WeatherPost{Kind: models.WeatherObserved, Hours: []models.WeatherHour{
		{At: clock(fair, 8, 0), TempC: 24}, {At: clock(fair, 9, 0), TempC: 28}}}))

	request := models.PlanRequest{Setup: setup, From: saturday, Days: 1}
	rows, err := facts.ComparableDays(ctx, s, request, clock(saturday, 6, 30))
	require.NoError(t, err)
	morning := rows[facts.ComparedRow{Weekday: saturday.Weekday(), DayPart: "morning", Drink: "glass"}]
	var weeks []int
	for _, d := range morning {
		k := d.Date.DaysUntil(saturday) / 7
		weeks = append(weeks, k)
		require.InDelta(t, 2*float64(k), d.Count, 1e-9, "servings, by the factor of the mapping")
	}
	require.Equal(t, []int{1, 2, 6, 7, 8, 9, 10, 11}, weeks, "newest first, eight of them; without the closed, the off-sale and the uncounted one")
	require.Equal(t, []string{"fair"}, morning[0].Events)
	require.InDelta(t, 26, *morning[0].TempC, 1e-9, "the mean of the hours that were observed in the part")
	require.Nil(t, morning[1].TempC)
	afternoon := rows[facts.ComparedRow{Weekday: saturday.Weekday(), DayPart: "afternoon", Drink: "tonic"}]
	require.Len(t, afternoon, 2, "not before its first sale")
	require.InDelta(t, 0, afternoon[0].Count, 1e-9)
	require.InDelta(t, 6, afternoon[1].Count, 1e-9)
}

func TestNothingCountedHasNoComparableDays(t *testing.T) {
	t.Parallel()
	s, setup := shopOf(t, nil)
	rows, err := facts.ComparableDays(ctx, s, models.PlanRequest{Setup: setup, From: saturday, Days: 2}, clock(saturday, 6, 30))
	require.NoError(t, err)
	require.Empty(t, rows)
}
