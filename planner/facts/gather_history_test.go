package facts_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"

	"hotday/planner/facts"
)

func TestHistoryIsWhatWasSoldAndWhatWasKnown(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	mapped(t, s, "GLASS", "glass", 1)
	mapped(t, s, "TONIC", "tonic", 1)
	first := saturday.AddDays(-4)
	sold(t, s, "GLASS", clock(first, 9, 0), 15, 3)
	sold(t, s, "GLASS", clock(first.AddDays(2), 13, 0), 15, 7) // nothing was counted on the day between
	sold(t, s, "TONIC", clock(first.AddDays(3), 16, 0), 15, 2)
	sold(t, s, "GLASS", clock(saturday, 9, 0), 15, 50) // today is not over
	require.NoError(t, s.PutOffSale(ctx, kiosk, []models.OffSale{{Drink: "tonic", From: clock(first, 9, 0), To: new(clock(first, 10, 0))}}))
	hour := func(d models.Date, h int, c float64) models.WeatherHour {
		return models.WeatherHour{At: clock(d, h, 0), TempC: c}
	}
	day := first.AddDays(2)
	for _, w := range []models.WeatherPost{
		{Kind: models.WeatherForecast, IssuedAt: clock(day.AddDays(-1), 12, 0), Hours: []models.WeatherHour{hour(day, 15, 29), hour(day.AddDays(1), 15, 31)}},
		{Kind: models.WeatherForecast, IssuedAt: clock(day, 6, 0), Hours: []models.WeatherHour{hour(day, 15, 33), hour(day.AddDays(1), 15, 35)}},
		{Kind: models.WeatherObserved, IssuedAt: clock(day, 16, 0), Hours: []models.WeatherHour{hour(day, 15, 34)}},
	} {
		require.NoError(t, s.PutWeather(ctx, kiosk, w))
	}

	setup, days, err := facts.GatherHistory(ctx, s, kiosk, clock(saturday, 12, 0))
	require.NoError(t, err)
	require.Equal(t, kiosk, setup.Site.Code)
	require.Len(t, days, 4)
	counts := func(i int, part, drink string) models.PastCount {
		for _, c := range days[i].Counts {
			if c.DayPart == part && c.Drink == drink {
				return c
			}
		}
		return models.PastCount{}
	}
	require.Equal(t, models.PastCount{DayPart: "morning", Drink: "glass", Servings: 3}, counts(0, "morning", "glass"))
	require.True(t, counts(0, "morning", "tonic").OffSale)
	require.False(t, counts(0, "midday", "tonic").OffSale)
	require.True(t, days[1].Closed, "nothing counted says nothing")
	require.False(t, days[2].Closed)
	require.InDelta(t, 7, counts(2, "midday", "glass").Servings, 1e-9)
	require.Len(t, days[2].Observed, 1)
	require.InDelta(t, 34, days[2].Observed[0].TempC, 0)
	require.Len(t, days[2].Forecast, 2, "as known when the shop closed on the day before")
	require.InDelta(t, 29, days[2].Forecast[0].TempC, 0)
	require.InDelta(t, 31, days[2].Forecast[1].TempC, 0)
	require.Empty(t, days[0].Forecast)

	_, _, err = facts.GatherHistory(ctx, s, "nowhere", time.Now())
	require.Equal(t, models.CodeNotFound, models.CodeOf(err))
}

func TestASiteWithoutCountsHasNoHistory(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, nil)
	_, days, err := facts.GatherHistory(ctx, s, kiosk, time.Now())
	require.NoError(t, err)
	require.Empty(t, days)
}
