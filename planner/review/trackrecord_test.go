package review_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/review"
)

func TestTrackRecordScoresOverridesAndForecasts(t *testing.T) {
	t.Parallel()
	override := func(n float64, ends ...float64) *models.ExpectedDemand {
		w := &models.ExpectedDemand{Expected: &n}
		if len(ends) == 2 {
			w.P10, w.P90 = &ends[0], &ends[1]
		}
		return w
	}
	forecast := func(low, mid, high float64) *models.RowForecast {
		return &models.RowForecast{P10: low, P50: mid, P90: high}
	}
	rows := []review.RecordRow{
		{Date: "2026-07-06", DayPart: "noon", Drink: "a", Count: 10, Override: override(14, 12, 16), Forecast: forecast(5, 8, 12)},
		{Date: "2026-07-06", DayPart: "late", Drink: "a", Count: 30, Override: override(20), Forecast: forecast(30, 36, 50)},
		{Date: "2026-07-07", DayPart: "noon", Drink: "a", Count: 20, Forecast: forecast(1, 5, 9)},
		{Date: "2026-07-08", DayPart: "noon", Drink: "a", Count: math.NaN(), Override: override(5), Forecast: forecast(1, 2, 3)}, // closed
		{Date: "2026-05-04", DayPart: "noon", Drink: "b", Count: 7, Forecast: forecast(7, 7, 7)},                                 // a week of its own, before
	}
	r := review.TrackRecord(rows, "2026-07-01")
	require.Equal(t, models.Date("2026-07-06"), *r.From)
	require.Equal(t, models.Date("2026-07-07"), *r.To)
	require.Equal(t, models.Score{Days: 1, Rows: 2, OffPct: new(35.0), DayOffPct: new(15.0), BiasPct: new(-15.0), Ranges: 1, InsidePct: new(0.0)}, r.All.Override)
	require.Equal(t, models.Score{Days: 1, Rows: 2, OffPct: new(20.0), DayOffPct: new(10.0), BiasPct: new(10.0), Ranges: 2, InsidePct: new(75.0)}, r.All.Paired)
	require.Equal(t, models.Score{Days: 2, Rows: 3, OffPct: new(38.3), DayOffPct: new(31.7), BiasPct: new(-18.3), Ranges: 3, InsidePct: new(50.0)}, r.All.Forecast)
	require.Len(t, r.Drinks, 1)
	require.Len(t, r.Weeks, 2)
	require.Equal(t, models.Date("2026-05-04"), r.Weeks[0].From)
	require.Equal(t, models.Date("2026-07-06"), r.Weeks[1].From)

	rand.Shuffle(len(rows), func(i, k int) { rows[i], rows[k] = rows[k], rows[i] })
	require.Equal(t, r, review.TrackRecord(rows, "2026-07-01"), "the order of rows changes nothing")
	require.Equal(t, models.Score{}, review.TrackRecord(nil, "").All.Override, "nothing stated, nothing scored")
	none := review.TrackRecord([]review.RecordRow{{Date: "2026-07-06", DayPart: "noon", Drink: "a", Forecast: forecast(0, 1, 2)}}, "")
	require.Nil(t, none.All.Forecast.OffPct, "nothing sold: no share of it")
}
