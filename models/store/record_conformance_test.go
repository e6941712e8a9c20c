package store_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func expectedDemandHistory(t *testing.T, open opener) {
	s := withShop(t, open)
	row := func(n *float64) []models.ExpectedDemand {
		return []models.ExpectedDemand{{Date: "2026-07-11", DayPart: "noon", Drink: "flash", Expected: n}}
	}
	require.NoError(t, s.PutExpectedDemand(ctx, shop, row(new(40.0)), at(0)))
	require.NoError(t, s.PutExpectedDemand(ctx, shop, row(new(50.0)), at(10)))
	require.NoError(t, s.PutExpectedDemand(ctx, shop, row(nil), at(20)))
	got, err := s.ExpectedDemandHistory(ctx, shop, "2026-07-11", "2026-07-12")
	require.NoError(t, err)
	require.Len(t, got, 3, "replaced and withdrawn rows are kept")
	require.Equal(t, 40.0, *got[0].Expected)
	require.Equal(t, 50.0, *got[1].Expected)
	require.Nil(t, got[2].Expected)
	require.True(t, at(20).Equal(got[2].StoredAt))
	none, err := s.ExpectedDemandHistory(ctx, shop, "2026-07-12", "2026-08-12")
	require.NoError(t, err)
	require.Empty(t, none)
}

func pastForecasts(t *testing.T, open opener) {
	s := withShop(t, open)
	_, _, err := s.PutSetup(ctx, setupOf("empty"), "", t0)
	require.NoError(t, err)
	first := models.DayForecast{Date: "2026-07-11", MadeAt: at(0), Observed: true, Rows: []models.RowForecast{{DayPart: "noon", Drink: "flash", P10: 1, P50: 2, P90: 3}}}
	second := models.DayForecast{Date: "2026-07-12", MadeAt: at(5), Rows: []models.RowForecast{}}
	require.NoError(t, s.PutDayForecasts(ctx, shop, []models.DayForecast{first, second}))
	again := first
	again.Rows = nil
	require.NoError(t, s.PutDayForecasts(ctx, shop, []models.DayForecast{again}))
	got, err := s.DayForecasts(ctx, shop, "2026-07-11", "2026-07-13")
	require.NoError(t, err)
	require.Equal(t, []models.DayForecast{first, second}, got, "the first forecast is kept")

	require.NoError(t, s.PutDayForecasts(ctx, shop, []models.DayForecast{{Date: "2028-07-11", MadeAt: at(9), Rows: []models.RowForecast{}}}))
	got, err = s.DayForecasts(ctx, shop, "2020-01-01", "2030-01-01")
	require.NoError(t, err)
	require.Len(t, got, 1, "old forecasts are deleted")

	require.NoError(t, s.PutTrackRecord(ctx, "empty", models.TrackRecord{}))
	_, found, err := s.TrackRecord(ctx, "empty")
	require.NoError(t, err, "an empty record can be read")
	require.True(t, found)
	_, found, err = s.TrackRecord(ctx, shop)
	require.NoError(t, err)
	require.False(t, found)
	for _, to := range []models.Date{"2026-07-09", "2026-07-10"} {
		r := models.TrackRecord{MadeAt: at(1), From: new(models.Date("2026-06-01")), To: &to, All: models.Record{Override: models.Score{Days: 3, OffPct: new(12.5)}}}
		require.NoError(t, s.PutTrackRecord(ctx, shop, r))
		kept, found, err := s.TrackRecord(ctx, shop)
		require.NoError(t, err)
		require.True(t, found)
		require.Equal(t, r, kept)
	}
}

func progress(t *testing.T, open opener) {
	s := withShop(t, open)
	isCode(t, models.CodeNotFound, s.StopWork(ctx, shop, "refit"))
	p := models.Progress{Kind: "refit", Key: "2026-07-11", Step: "days", Say: "Updating", StartedAt: at(0), At: at(1), Share: 0.1}
	put := func() bool {
		stop, err := s.PutProgress(ctx, shop, p)
		require.NoError(t, err)
		return stop
	}
	require.False(t, put())
	p.Share, p.At = 0.4, at(2)
	require.False(t, put())
	got, err := s.Progress(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, []models.Progress{p}, got)
	require.NoError(t, s.StopWork(ctx, shop, "refit"))
	require.True(t, put())
	require.True(t, put(), "the request stays")
	p.StartedAt = at(30)
	require.False(t, put(), "a new job has not been asked to stop")
	older := p
	older.Key, older.StartedAt = "2026-07-10", at(29)
	stop, err := s.PutProgress(ctx, shop, older)
	require.NoError(t, err)
	require.True(t, stop, "a later job has taken its place")
	require.NoError(t, s.DropProgress(ctx, shop, "refit", older.Key))
	got, err = s.Progress(ctx, shop)
	require.NoError(t, err)
	require.Equal(t, []models.Progress{p}, got, "what the later job reported stays")

	p.Problem = models.ProblemInternal
	require.False(t, put())
	require.NoError(t, s.StopWork(ctx, shop, "refit"), "somebody has read that it failed")
	isCode(t, models.CodeNotFound, s.StopWork(ctx, shop, "refit"))
	p.Problem = ""
	require.False(t, put())
	require.NoError(t, s.DropProgress(ctx, shop, "refit", p.Key))
	got, err = s.Progress(ctx, shop)
	require.NoError(t, err)
	require.Empty(t, got)
}
