package forecast

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func (st *State) newestDay() models.Date { return st.first.AddDays(st.last) }

// upTo returns the rows before day number day of the history.
func upTo(past []Past, day int) (rows []Past) {
	end := past[0].Date.AddDays(day)
	for _, p := range past {
		if p.Date < end {
			rows = append(rows, p)
		}
	}
	return rows
}

func TestStateRoundTrip(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 150, 3, 5)
	st, err := Fit(context.Background(), past)
	require.NoError(t, err)
	body, err := st.MarshalBinary()
	require.NoError(t, err)
	var again State
	require.NoError(t, again.UnmarshalBinary(body))
	require.Equal(t, st.Predict(ahead, scoredLevels), again.Predict(ahead, scoredLevels))
	require.Equal(t, past[149].Date, again.newestDay())
	require.Error(t, again.UnmarshalBinary(body[:len(body)/2]))

	nothing, err := Fit(context.Background(), nil)
	require.NoError(t, err)
	body, err = nothing.MarshalBinary()
	require.NoError(t, err)
	require.NoError(t, again.UnmarshalBinary(body))
	require.Negative(t, again.last)
	require.Equal(t, []Note{{Code: NoHistory}}, again.Predict(ahead, scoredLevels).Notes)
}

// Weeks of nightly updates forecast nearly the same as a full fit.
func TestNightlyUpdatesStayCloseToAFullFit(t *testing.T) {
	t.Parallel()
	past, ahead := shop(4, 280, 3, 6)
	st, err := Fit(context.Background(), upTo(past, 240))
	require.NoError(t, err)
	for day := 241; day <= 280; day++ {
		st, err = st.Update(context.Background(), upTo(past, day))
		require.NoError(t, err)
		require.Equal(t, past[0].Date.AddDays(day-1), st.newestDay())
	}
	again, err := st.Update(context.Background(), past)
	require.NoError(t, err)
	require.True(t, st == again, "no new data, no work")
	corrected := withHistory(Document{History: past}, func(i int, p *Past) {
		if i == 280+270 {
			*p.Demand += 5
		}
	})
	again, err = st.Update(context.Background(), corrected.History)
	require.NoError(t, err)
	require.False(t, st == again, "a late correction is used")
	fresh, err := Fit(context.Background(), past)
	require.NoError(t, err)
	a, b := st.Predict(ahead, scoredLevels), fresh.Predict(ahead, scoredLevels)
	for i := range a.Rows {
		if ahead[i].Open {
			require.InDelta(t, 1, a.Rows[i].Mean/b.Rows[i].Mean, .12, "%s %s", a.Rows[i].Drink, a.Rows[i].Date)
		}
	}
}

func TestUpdateAddsNewSeriesAndFitsAnEmptyState(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 200, 2, 8)
	var without []Past
	for _, p := range upTo(past, 180) {
		if p.Drink != "s01" {
			without = append(without, p)
		}
	}
	st, err := Fit(context.Background(), without)
	require.NoError(t, err)
	next, err := st.Update(context.Background(), upTo(past, 181))
	require.NoError(t, err)
	for _, n := range next.Predict(ahead, scoredLevels).Notes {
		require.NotEqual(t, ColdStart, n.Code)
	}
	fresh, err := Fit(context.Background(), upTo(past, 181))
	require.NoError(t, err)
	long, err := (&State{}).Update(context.Background(), upTo(past, 181))
	require.NoError(t, err)
	require.Equal(t, fresh.Predict(ahead, scoredLevels), long.Predict(ahead, scoredLevels))
}

// A site that keeps two years drops a day each night, which needs no full fit.
func TestUpdateDropsTheOldestDays(t *testing.T) {
	t.Parallel()
	past, ahead := shop(3, 200, 3, 9)
	since := func(day int, rows []Past) (out []Past) {
		for _, p := range rows {
			if p.Date >= past[0].Date.AddDays(day) {
				out = append(out, p)
			}
		}
		return out
	}
	st, err := Fit(context.Background(), upTo(past, 190))
	require.NoError(t, err)
	grown := st.learners.Boosting
	for day := 191; day <= 194; day++ {
		st, err = st.Update(context.Background(), since(day-150, upTo(past, day)))
		require.NoError(t, err)
	}
	require.True(t, grown == st.learners.Boosting)
	st, err = st.Update(context.Background(), since(50, past))
	require.NoError(t, err)
	require.Equal(t, past[0].Date.AddDays(199), st.newestDay())
	fresh, err := Fit(context.Background(), since(50, past))
	require.NoError(t, err)
	a, b := st.Predict(ahead, scoredLevels), fresh.Predict(ahead, scoredLevels)
	for i := range a.Rows {
		if ahead[i].Open {
			require.InDelta(t, 1, a.Rows[i].Mean/b.Rows[i].Mean, .15)
		}
	}
}
