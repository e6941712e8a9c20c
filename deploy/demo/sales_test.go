package demo_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
)

func TestCountsBetweenContinueTheHistory(t *testing.T) {
	t.Parallel()
	loc, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	at := time.Date(2026, 7, 8, 13, 5, 0, 0, loc) // a Wednesday, open
	now, err := demo.At(at)
	require.NoError(t, err)
	later, err := demo.At(at.Add(26 * time.Hour))
	require.NoError(t, err)
	want := slices.DeleteFunc(slices.Collect(later.Counts()), func(c models.SalesCount) bool { return !c.WindowEnd.After(at) })
	var more []models.SalesCount
	for from := at; from.Before(at.Add(26 * time.Hour)); from = from.Add(7 * time.Minute) { // intervals that cut across windows
		more = append(more, slices.Collect(now.CountsBetween(from, minTime(from.Add(7*time.Minute), at.Add(26*time.Hour))))...)
	}
	assert.NotEmpty(t, more)
	assert.Equal(t, want, more, "the same season, whenever the demo was started")
}

func minTime(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
