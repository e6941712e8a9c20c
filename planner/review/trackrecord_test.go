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
		{Date: "2026-07-06", DayPart: "late", Drink: "a", Count: 30, Override: override(20), Forecast: forecast(28, 36, 50)},
		{Date: "2026-07-07", DayPart: "noon", Drink: "a", Count: 20, Forecast: forecast(1, 5, 9)},
		{Date: "2026-07-08", DayPart: "noon", Drink: "a", Count: math.NaN(), Override: override(5), Forecast: forecast(1, 2, 3)}, // closed
		{Date: "2026-05-04", DayPart: "noon", Drink: "b", Count: 7, Forecast: forecast(7, 7, 7)},                                 // a week of its own, before
	}
	r := review.TrackRecord(rows, "2026-07-01")
	require.Equal(t, models.Date("2026-07-06"), *r.From)
	require.Equal(t, models.Date("2026-07-07"), *r.To)
	require.Equal(t, models.Score{Days: 1, Rows: 2, OffPct: new(35.0), DayOffPct: new(15.0), BiasPct: new(-15.0), Ranges: 1, InsidePct: new(0.0)}, r.All.Override)
	require.Equal(t, models.Score{Days: 1, Rows: 2, OffPct: new(20.0), DayOffPct: new(10.0), BiasPct: new(10.0), Ranges: 2, InsidePct: new(100.0)}, r.All.Paired)
	require.Equal(t, models.Score{Days: 2, Rows: 3, OffPct: new(38.3), DayOffPct: new(31.7), BiasPct: new(-18.3), Ranges: 3, InsidePct: new(66.7)}, r.All.Forecast)
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

// smallCounts is a history of whole counts and the forecast that knows their distribution: Poisson with a mean from 0.2 to 6.
func smallCounts(seed uint64, days int) (rows []review.RecordRow) {
	rng := rand.New(rand.NewPCG(seed, 5))
	for k := range days {
		for _, drink := range []string{"a", "b", "c"} {
			mean := 0.2 + 5.8*rng.Float64()*rng.Float64()
			f := models.RowForecast{Mean: &mean, None: math.Exp(-mean)}
			for _, q := range []struct {
				level float64
				dst   *float64
			}{{0.1, &f.P10}, {0.5, &f.P50}, {0.9, &f.P90}} {
				below, p, n := 0.0, math.Exp(-mean), 0.0
				for below+p < q.level {
					below += p
					n++
					p *= mean / n
				}
				*q.dst = math.Max(0, n-0.5+(q.level-below)/p) // a count's probability is spread over ±½
			}
			count, p := -1.0, 1.0
			for p > math.Exp(-mean) {
				count++
				p *= 1 - rng.Float64()
			}
			rows = append(rows, review.RecordRow{Date: models.Date("2026-01-05").AddDays(k), DayPart: "noon", Drink: drink, Count: count, Forecast: &f})
		}
	}
	return rows
}

// With whole quantiles and half a point for a count on a bound, the same forecaster scored 47 % for counts like these.
func TestAPerfectForecasterOfSmallCountsIsCalibratedAndUnbiased(t *testing.T) {
	t.Parallel()
	rows := smallCounts(1, 6000)
	s := review.TrackRecord(rows, "").All.Forecast
	require.InDelta(t, 80, *s.InsidePct, 1.5)
	require.InDelta(t, 0, *s.BiasPct, 2.5)
	require.Equal(t, s, review.TrackRecord(rows, "").All.Forecast, "the same rows, the same record")
	for i := range rows { // as stored by earlier versions
		f := rows[i].Forecast
		rows[i].Forecast = &models.RowForecast{P10: math.Round(f.P10), P50: math.Round(f.P50), P90: math.Round(f.P90)}
	}
	old := review.TrackRecord(rows, "").All.Forecast
	t.Logf("whole quantiles: inside %.1f %%, bias %.1f %%; continuous: inside %.1f %%, bias %.1f %%", *old.InsidePct, *old.BiasPct, *s.InsidePct, *s.BiasPct)
	require.Less(t, *old.BiasPct, -3.0, "the sum of medians is too low")
}

// A range that is half as wide as it should be is found out, and one that is twice as wide.
func TestTheRecordTellsWrongRangesOfSmallCounts(t *testing.T) {
	t.Parallel()
	for by, most := range map[float64]float64{0.5: 60, 2: 100} {
		rows := smallCounts(2, 2000)
		for _, r := range rows {
			f := r.Forecast
			f.P10, f.P90, f.None = math.Max(0, f.P50-by*(f.P50-f.P10)), f.P50+by*(f.P90-f.P50), 0
		}
		s := review.TrackRecord(rows, "").All.Forecast
		require.Less(t, *s.InsidePct, most)
		require.Greater(t, *s.InsidePct, most-20)
	}
}
