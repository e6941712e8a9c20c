package forecast

import (
	"context"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

var (
	noonIced   = SeriesKey{DayPart: "noon", Drink: "iced"}
	allDayLong = SeriesKey{DayPart: "all day", Drink: "long black"}
)

// storedDays is the number of days that the states in testdata were fitted to, from 15 January to 18 April 2024.
const storedDays = 95

// storedShop is their history and the day after it.
func storedShop() []Past {
	past, _ := shop(2, storedDays+1, 0, 31)
	keys := map[string]SeriesKey{"s00": noonIced, "s01": allDayLong}
	for i := range past {
		past[i].SeriesKey = keys[past[i].Drink]
	}
	return past
}

// storedAhead asks for a day of both series.
func storedAhead(date models.Date) []Ahead {
	temp, rain := 16.5077, 0.0
	rows := []Ahead{{SeriesKey: noonIced}, {SeriesKey: allDayLong}}
	for i := range rows {
		rows[i].Date, rows[i].Open, rows[i].TempC, rows[i].RainMM = date, true, &temp, &rain
	}
	return rows
}

func readStored(t testing.TB, file string) *State {
	t.Helper()
	body, err := os.ReadFile("testdata/" + file)
	require.NoError(t, err)
	var st State
	require.NoError(t, st.UnmarshalBinary(body))
	return &st
}

// state-4.bin was written before keys were structs, state-5.bin before trees were stored compactly, state-6.bin before forests were packed;
// the expected forecasts are those of the version that wrote the first.
func TestStoredStatesOpenAndForecastAsBefore(t *testing.T) {
	t.Parallel()
	rows := storedAhead("2024-04-19")
	for _, file := range []string{"state-4.bin", "state-5.bin", "state-6.bin"} {
		st := readStored(t, file)
		assert.Equal(t, "2024-04-18", string(st.newestDay()), file)
		live := st.PredictWithBasis(rows, []float64{1, 1}, scoredLevels)
		assert.Equal(t, noonIced, live[0].SeriesKey, file)
		assert.InEpsilon(t, 45.611, live[0].Mean, 1e-4, file)
		assert.Equal(t, []float64{30, 37, 44, 53, 61, 66}, live[0].Quantiles, file)
		assert.InEpsilon(t, 29.2137, live[1].Mean, 1e-4, file)
		assert.Equal(t, []float64{15, 23, 28, 35, 40, 47}, live[1].Quantiles, file)
		assert.Equal(t, []NoteCode{Weekdays, WeekdayEffect, LevelEffect}, codes(live[1].Basis), file)
		assert.Equal(t, Note{Code: Weekdays, Weekday: time.Friday, Days: 13}, live[1].Basis[0], file)
		assert.InDelta(t, -.2, live[1].Basis[1].Effect, .005, file)
		assert.InDelta(t, .08, live[1].Basis[2].Effect, .005, file)

		again := &State{} // stored once more before the next night
		body, err := st.MarshalBinary()
		require.NoError(t, err)
		require.NoError(t, again.UnmarshalBinary(body))
		assert.Equal(t, live, again.PredictWithBasis(rows, []float64{1, 1}, scoredLevels), file)
	}
}

// States written before notes were codes hold the outliers in an English sentence.
func TestOutliersOfAnEarlierStateAreRead(t *testing.T) {
	t.Parallel()
	for odd, want := range map[string]tail{
		"1 day (2024-03-02) lies many times beyond all others and is taken as less; look whether the count is right":              {Capped: 1, CappedLast: "2024-03-02"},
		"12 days (the last 2024-04-01) lie many times beyond all others and are taken as less; look whether the counts are right": {Capped: 12, CappedLast: "2024-04-01"},
		"": {},
	} {
		st := readStored(t, "state-5.bin")
		st.tails[0].Odd = odd
		body, err := st.MarshalBinary()
		require.NoError(t, err)
		require.NoError(t, st.UnmarshalBinary(body))
		assert.Equal(t, want, tail{Capped: st.tails[0].Capped, CappedLast: st.tails[0].CappedLast, Odd: st.tails[0].Odd})
	}
}

func TestUpdateContinuesFromAnEarlierVersion(t *testing.T) {
	t.Parallel()
	var want *State
	for _, file := range []string{"state-5.bin", "state-4.bin", "state-6.bin"} {
		st := readStored(t, file)
		for _, k := range []SeriesKey{noonIced, allDayLong} {
			require.True(t, st.Knows(k), "%s: %v", file, k)
		}
		require.False(t, st.Knows(SeriesKey{DayPart: "noon", Drink: "long black"}))
		next, err := st.Update(context.Background(), storedShop())
		require.NoError(t, err)
		if want == nil {
			want = next
			continue
		}
		require.Equal(t, []SeriesKey{allDayLong, noonIced}, []SeriesKey{next.tails[0].Key, next.tails[1].Key}, "keys are upgraded")
		require.Greater(t, len(next.backtests), len(st.backtests), "its trials are kept")
		require.Equal(t, want.Predict(storedAhead("2024-04-20"), scoredLevels), next.Predict(storedAhead("2024-04-20"), scoredLevels))
	}
}

// splitEarly and splitLate have the same label. In version 4 they were one series, of which the last row of a date counted.
var splitEarly, splitLate = SeriesKey{DayPart: "all", Drink: "day iced"}, SeriesKey{DayPart: "all day", Drink: "iced"}

// sameLabel is a history of both, the second with eight times the demand.
func sameLabel() ([]Past, []Ahead) {
	past, ahead := shop(1, 101, 1, 33)
	double := func(a Ahead) Ahead { a.SeriesKey = splitLate; return a }
	for _, p := range past {
		many := 8 * *p.Demand
		past = append(past, Past{Ahead: double(p.Ahead), Demand: &many})
	}
	ahead = append(ahead, double(ahead[0]))
	for i := range past {
		if past[i].SeriesKey != splitLate {
			past[i].SeriesKey = splitEarly
		}
	}
	ahead[0].SeriesKey, ahead[0].Open, ahead[1].Open = splitEarly, true, true
	return past, ahead
}

func TestSeriesWithTheSameLabelStayApart(t *testing.T) {
	t.Parallel()
	past, ahead := sameLabel()
	st, err := Fit(context.Background(), upTo(past, 100))
	require.NoError(t, err)
	st, err = st.Update(context.Background(), past)
	require.NoError(t, err)
	body, err := st.MarshalBinary()
	require.NoError(t, err)
	var again State
	require.NoError(t, again.UnmarshalBinary(body))
	live := again.PredictWithBasis(ahead, []float64{0, 0}, scoredLevels)
	require.InEpsilon(t, 8, live[1].Mean/live[0].Mean, .2)
	rows := again.Predict(ahead, scoredLevels).Rows
	require.Equal(t, []SeriesKey{splitEarly, splitLate}, []SeriesKey{rows[0].SeriesKey, rows[1].SeriesKey})
}

// Equal counts of two such series must not cancel out in the digest of the day, or a correction of both would be missed.
func TestCorrectionsOfSeriesWithTheSameLabelAreSeen(t *testing.T) {
	t.Parallel()
	past, _ := sameLabel()
	for i := range past {
		past[i].Demand = new(20.0)
	}
	st, err := Fit(context.Background(), past)
	require.NoError(t, err)
	corrected, err := Fit(context.Background(), onDays(past, func(d int) bool { return d == 50 }, func(p *Past) { *p.Demand = 30 }))
	require.NoError(t, err)
	require.Equal(t, 1, countTrue(st.changedDays(corrected, 0)))
}

func TestUpdateRefitsAStateThatMixedTwoSeries(t *testing.T) {
	t.Parallel()
	past, ahead := sameLabel()
	mixed := make([]Past, len(past))
	for i, p := range past {
		mixed[i] = p
		mixed[i].SeriesKey = SeriesKey{Drink: splitEarly.label()}
	}
	st, err := Fit(context.Background(), upTo(mixed, 100))
	require.NoError(t, err)
	st.labelled = true // as read from version 4
	next, err := st.Update(context.Background(), past)
	require.NoError(t, err)
	fresh, err := Fit(context.Background(), past)
	require.NoError(t, err)
	require.Equal(t, fresh.Predict(ahead, scoredLevels), next.Predict(ahead, scoredLevels))
}
