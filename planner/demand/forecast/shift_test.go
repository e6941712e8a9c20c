package forecast

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// afterShift returns the mean forecast of a span of days relative to their mean demand, less 1: of forecasts issued on day issued for the
// days from it on, of histories whose demand is by times the usual from day shifted on. nightly learns the days from shifted on night
// by night.
func afterShift(t *testing.T, series int, by float64, shifted, issued, days int, nightly bool) float64 {
	t.Helper()
	forecast, demand := 0.0, 0.0
	for seed := range uint64(6) {
		past, _ := shop(series, issued+days, 0, 40+seed)
		past = onDays(past, func(d int) bool { return d >= shifted }, func(p *Past) { *p.Demand = math.Round(*p.Demand * by) })
		var st *State
		if nightly {
			st = fitState(t, upTo(past, shifted))
			for d := shifted + 1; d <= issued; d++ {
				next, err := st.Update(context.Background(), upTo(past, d))
				require.NoError(t, err)
				st = next
			}
		} else {
			st = fitState(t, upTo(past, issued))
		}
		var rows []Ahead
		for _, p := range past {
			if p.Date >= past[0].Date.AddDays(issued) {
				rows = append(rows, p.Ahead)
				if p.Open {
					demand += *p.Demand
				}
			}
		}
		for _, r := range st.Predict(rows, scoredLevels).Rows {
			forecast += r.Mean
		}
	}
	return forecast/demand - 1
}

func TestALastingShiftIsFollowedInTheSecondWeek(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("fits dozens of histories")
	}
	for _, nightly := range []bool{false, true} {
		usual := afterShift(t, 4, 1, 493, 500, 7, nightly)
		for _, by := range []float64{.7, 1.4} {
			off := afterShift(t, 4, by, 493, 500, 7, nightly)
			t.Logf("×%.1f, nightly %t: second week %+.1f %%, without a shift %+.1f %%", by, nightly, 100*off, 100*usual)
			require.InDelta(t, 0, off, .12)
		}
	}
}

// quietShop is a history of one level.
func quietShop(seed uint64, days int) []Past { past, _ := shop(4, days, 0, seed); return past }

func TestNoShiftIsFoundWhereThereIsNone(t *testing.T) {
	t.Parallel()
	for seed := range uint64(4) {
		st := fitState(t, quietShop(60+seed, 400))
		for _, x := range st.shifts {
			require.InDelta(t, 0, x.Log, .05, "seed %d", seed)
		}
	}
}

// A shift is kept when it is no longer young, and a later one multiplies with it.
func TestAShiftIsKeptAndTheNextOneAddsToIt(t *testing.T) {
	t.Parallel()
	const first, second = 400, 470
	past := onDays(quietShop(70, 484), func(d int) bool { return d >= first }, func(p *Past) { *p.Demand = math.Round(*p.Demand * .6) })
	past = onDays(past, func(d int) bool { return d >= second }, func(p *Past) { *p.Demand = math.Round(*p.Demand * 1.8) })
	st := fitState(t, upTo(past, first+14))
	require.Len(t, st.shifts, 1)
	require.InDelta(t, first, st.shifts[0].Day, 5)
	require.InDelta(t, math.Log(.6), st.shifts[0].Log, .2)
	_, _, basis := liveTotals(t, st, []Ahead{{SeriesKey: past[0].SeriesKey, Date: past[0].Date.AddDays(first + 16), Open: true}})
	told := slices.IndexFunc(basis, func(n Note) bool { return n.Code == ShiftEffect })
	require.GreaterOrEqual(t, told, 0)
	require.InDelta(t, -.4, basis[told].Effect, .12)
	for d := first + 28; d <= second+14; d += 14 {
		next, err := st.Update(context.Background(), upTo(past, d))
		require.NoError(t, err)
		body, err := next.MarshalBinary() // and stored between
		require.NoError(t, err)
		st = &State{}
		require.NoError(t, st.UnmarshalBinary(body))
	}
	require.Len(t, st.shifts, 2)
	require.InDelta(t, math.Log(1.8), st.shifts[1].Log, .15)
	factor, _ := st.shiftOf(SeriesKey{Drink: "s00"}, second+20)
	require.InDelta(t, 1.08, factor, .25)
	before, _ := st.shiftOf(SeriesKey{Drink: "s00"}, first-1)
	require.InDelta(t, 1, before, 1e-9)
}
