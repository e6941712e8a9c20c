package forecast

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// newDrink is the history of five drinks and of a sixth that sells by times as much as the fourth (on like days the same customers come) from
// day first on.
func newDrink(seed uint64, by float64, first, days int) []Past {
	past, _ := shop(5, days, 0, seed)
	twin, _ := shop(5, days, 0, seed)
	out := past
	for i, p := range twin {
		day := past[0].Date.DaysUntil(p.Date)
		if p.Drink != "s04" || day < first {
			continue
		}
		y := math.Round(by * (*p.Demand + math.Sqrt(*p.Demand)*float64(int(splitmix64(uint64(i)+seed)%5)-2)/2))
		p.Drink, p.Demand = "new", &y
		out = append(out, p)
	}
	return out
}

// firstDaysOff is the mean absolute error of the forecasts for the next two weeks, relative to demand, once days days of the new drink are
// known.
func firstDaysOff(t testing.TB, by float64, days int, like string) float64 {
	t.Helper()
	const first, seeds = 200, 4
	off, demand := 0.0, 0.0
	for seed := range uint64(seeds) {
		past := newDrink(80+seed, by, first, first+days+14)
		st, err := Fit(context.Background(), upTo(past, first))
		require.NoError(t, err)
		if days > 0 {
			st, err = st.Update(context.Background(), upTo(past, first+days))
			require.NoError(t, err)
		}
		var rows []Ahead
		var actual []float64
		for _, p := range past {
			if p.Drink == "new" && p.Date >= past[0].Date.AddDays(first+days) {
				a := p.Ahead
				a.Like = like
				rows, actual = append(rows, a), append(actual, *p.Demand)
			}
		}
		for i, r := range st.Predict(rows, scoredLevels).Rows {
			if rows[i].Open {
				off, demand = off+math.Abs(r.Mean-actual[i]), demand+actual[i]
			}
		}
	}
	return off / demand
}

func TestANewDrinkIsForecastFromAnotherInItsFirstDays(t *testing.T) {
	t.Parallel()
	for days, most := range map[int][2]float64{0: {.7, .38}, 1: {.5, .38}, 3: {.35, .35}} {
		alone, like := firstDaysOff(t, .8, days, ""), firstDaysOff(t, .8, days, "s04")
		t.Logf("%d days known: off by %.0f %%, with a like drink %.0f %%", days, 100*alone, 100*like)
		require.Less(t, alone, most[0], "%d days", days)
		require.Less(t, like, most[1], "%d days", days)
	}
}

func TestTheBasisSaysThatADrinkStandsIn(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 120, 1, 5)
	st, err := Fit(context.Background(), past)
	require.NoError(t, err)
	row := ahead[1]
	row.Drink, row.Like, row.Open = "new", "s01", true
	require.True(t, st.KnowsOrLike(row.SeriesKey, "s01"))
	require.False(t, st.KnowsOrLike(row.SeriesKey, "s09"))
	_, _, basis := liveTotals(t, st, []Ahead{row})
	require.Equal(t, []Note{{Code: StandIn}}, basis)
	row.Like = "s09" // nobody knows it: as without
	_, _, basis = liveTotals(t, st, []Ahead{row})
	require.Equal(t, []Note{{Code: ColdStart}}, basis)
}
