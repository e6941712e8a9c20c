package forecast

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// onDays applies change to the rows of the days, counted from the first, that picked selects.
func onDays(past []Past, picked func(day int) bool, change func(p *Past)) []Past {
	return withHistory(Document{History: past}, func(_ int, p *Past) {
		if picked(past[0].Date.DaysUntil(p.Date)) {
			change(p)
		}
	}).History
}

func fitState(t testing.TB, past []Past) *State {
	t.Helper()
	st, err := Fit(context.Background(), past)
	require.NoError(t, err)
	return st
}

func liveTotals(t testing.TB, st *State, rows []Ahead) (mean, width float64, basis []Note) {
	t.Helper()
	for i, l := range st.PredictWithBasis(rows, make([]float64, len(rows)), scoredLevels) {
		if rows[i].Open {
			require.False(t, math.IsNaN(l.Mean))
			mean, width, basis = mean+l.Mean, width+l.Quantiles[4]-l.Quantiles[0], l.Basis
		}
	}
	return mean, width, basis
}

// codes are the kinds of notes.
func codes(notes []Note) (out []NoteCode) {
	for _, n := range notes {
		out = append(out, n.Code)
	}
	return out
}

func allOpen(rows []Ahead, change func(a *Ahead)) []Ahead {
	out := append([]Ahead{}, rows...)
	for i := range out {
		out[i].Open = true
		change(&out[i])
	}
	return out
}

func TestTheEffectOfAnEventIsEstimatedFromItsPastDays(t *testing.T) {
	t.Parallel()
	past, ahead := shop(4, 300, 3, 21)
	plain, ahead := fitState(t, past), allOpen(ahead, func(*Ahead) {})
	usual, width, basis := liveTotals(t, plain, ahead)
	require.NotContains(t, codes(basis), EventEffect)
	named := func(name string) []Ahead { return allOpen(ahead, func(a *Ahead) { a.Event = name }) }

	mean, wider, basis := liveTotals(t, plain, named("Street fair"))
	assert.InDelta(t, 1, mean/usual, .01, "its effect is unknown")
	assert.Greater(t, wider, 1.15*width)
	assert.Contains(t, basis, Note{Code: EventEffect, Event: "Street fair"})
	require.Contains(t, plain.Predict(named("Street fair"), scoredLevels).Notes, Note{Code: EventEffect, Event: "Street fair"})

	last := 0.0
	for _, days := range []int{1, 3, 8} {
		st := fitState(t, onDays(past, func(d int) bool { return d >= 100 && (d-100)%24 == 0 && (d-100)/24 < days }, func(p *Past) {
			p.Event, *p.Demand = " street  FAIR 2024", math.Round(*p.Demand*2)
		}))
		base, _, _ := liveTotals(t, st, ahead)
		assert.InDelta(t, 1, base/usual, .06, "%d days twice as busy do not change other days", days)
		mean, _, basis := liveTotals(t, st, named("Street fair 2025"))
		assert.Greater(t, mean/base, last, "the more days, the less shrinkage")
		last = mean / base
		assert.Contains(t, basis, Note{Code: EventEffect, Event: "Street fair 2025", Days: days, Effect: math.Expm1(st.effects["street fair"].Log)})
		if days == 1 {
			assert.Less(t, last, 1.85)
		}
	}
	assert.InDelta(t, 2, last, .25)
}

func TestFrequentEventsCountAsUsual(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 200, 7, 22)
	st := fitState(t, onDays(past, func(d int) bool { return d%7 == 3 }, func(p *Past) { p.Event = "market" }))
	plain := fitState(t, past)
	ahead = allOpen(ahead, func(a *Ahead) { a.Event = "Market" })
	a, _, basis := liveTotals(t, st, ahead)
	b, _, _ := liveTotals(t, plain, allOpen(ahead, func(a *Ahead) { a.Event = "" }))
	require.InDelta(t, 1, a/b, 1e-9)
	require.NotContains(t, codes(basis), EventEffect)

	st = fitState(t, onDays(past, func(d int) bool { return d >= 150 && d < 165 }, func(p *Past) { p.Event = "works in the street" }))
	a, _, _ = liveTotals(t, st, allOpen(ahead, func(a *Ahead) { a.Event = "Works in the street" }))
	require.InDelta(t, 1, a/b, 1e-9, "the level reflects weeks on end")
}

func TestHalfTheSellingTimeHalvesDemand(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 280, 3, 23)
	half := .5
	cut := func(p *Past) { p.OpenShare, *p.Demand = &half, math.Round(*p.Demand/2) }
	plain := fitState(t, past)
	st := fitState(t, onDays(past, func(d int) bool { return d%5 == 0 }, cut))
	ahead = allOpen(ahead, func(*Ahead) {})
	usual, width, _ := liveTotals(t, plain, ahead)
	whole, _, basis := liveTotals(t, st, ahead)
	require.InDelta(t, 1, whole/usual, .05, "short days do not lower the others")
	require.NotContains(t, codes(basis), OpenHours)
	short, narrow, basis := liveTotals(t, st, allOpen(ahead, func(a *Ahead) { a.OpenShare = &half }))
	require.InDelta(t, .5, short/whole, 1e-9)
	require.Contains(t, basis, Note{Code: OpenHours, Effect: -.5})
	require.Less(t, narrow, .8*width)
	require.Greater(t, narrow/short, width/usual, "fewer servings have a larger relative spread")
}

func TestAFirstHolidayWidensTheRange(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 200, 3, 24)
	none := onDays(past, func(int) bool { return true }, func(p *Past) { p.Holiday = false })
	st := fitState(t, none)
	_, width, _ := liveTotals(t, st, allOpen(ahead, func(a *Ahead) { a.Holiday = false }))
	_, wider, basis := liveTotals(t, st, allOpen(ahead, func(a *Ahead) { a.Holiday = true }))
	require.Greater(t, wider, 1.05*width)
	require.Contains(t, basis, Note{Code: UnknownHoliday})

	quiet := onDays(none, func(d int) bool { return d%20 == 10 }, func(p *Past) { p.Holiday, *p.Demand = true, math.Round(*p.Demand*.3) })
	st = fitState(t, quiet)
	usual, _, _ := liveTotals(t, st, allOpen(ahead, func(a *Ahead) { a.Holiday = false }))
	mean, _, basis := liveTotals(t, st, allOpen(ahead, func(a *Ahead) { a.Holiday = true }))
	require.Less(t, mean, .6*usual)
	require.Contains(t, codes(basis), HolidayEffect)
}

func TestTheBasisNamesAnOutlier(t *testing.T) {
	t.Parallel()
	past, ahead := shop(2, 120, 1, 25)
	st := fitState(t, onDays(past, func(d int) bool { return d == 100 }, func(p *Past) { *p.Demand = 1e6 }))
	_, _, basis := liveTotals(t, st, allOpen(ahead, func(*Ahead) {}))
	require.Contains(t, basis, Note{Code: Capped, Days: 1, Date: past[0].Date.AddDays(100)})
}

// A year that is corrected months later counts as if it had been right from the start.
func TestUpdateLearnsFromLateCorrections(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 260, 3, 26)
	ahead = allOpen(ahead, func(*Ahead) {})
	wrong := onDays(past, func(d int) bool { return d < 200 }, func(p *Past) { *p.Demand = math.Round(*p.Demand / 3) })
	st := fitState(t, wrong)
	got, err := st.Update(context.Background(), past)
	require.NoError(t, err)
	require.Equal(t, fitState(t, past).Predict(ahead, scoredLevels), got.Predict(ahead, scoredLevels))

	// A single day: the trees are grown again at once, and no backtest keeps its old value.
	few := onDays(past, func(d int) bool { return d == 240 }, func(p *Past) { *p.Demand += 40 })
	got, err = fitState(t, few).Update(context.Background(), past)
	require.NoError(t, err)
	for _, x := range got.backtests {
		require.NotEqual(t, 240, x.Day)
	}
	fresh := fitState(t, past)
	a, _, _ := liveTotals(t, got, ahead)
	b, _, _ := liveTotals(t, fresh, ahead)
	require.InDelta(t, 1, a/b, .05)
}

func TestSharesAndEventsAreValidated(t *testing.T) {
	t.Parallel()
	const good = `{"history":[{"series":"a","date":"2026-06-01","demand":12,"open":true,"holiday":false,"open_share":0.5,"event":"fair"}],
		"ahead":[{"series":"a","date":"2026-06-02","open":true,"holiday":false,"open_share":2}],"levels":[0.1,0.9]}`
	_, err := Parse([]byte(good))
	require.NoError(t, err)
	for from, to := range map[string]string{`"open_share":0.5`: `"open_share":0`, `"open_share":2`: `"open_share":-2`, `"fair"`: `"` + strings.Repeat("x", 500) + `"`} {
		_, err := Parse([]byte(strings.Replace(good, from, to, 1)))
		require.ErrorContains(t, err, "is not valid", to)
	}
}
