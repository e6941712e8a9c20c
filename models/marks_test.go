package models_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestUndoRemovesTheLastMark(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 11, 8, 0, 0, 0, time.UTC)
	g, tds := 4800.0, 1.42
	started, made := models.TaskMark{State: models.Started, At: at}, models.TaskMark{State: models.Made, At: at.Add(time.Minute)}
	weighed := models.TaskMark{State: models.Made, At: at.Add(2 * time.Minute), BeverageG: &g}
	measured := models.TaskMark{State: models.Made, At: at.Add(3 * time.Minute), TDSPct: &tds}
	due := models.TaskMark{State: models.Due}

	m, ok := models.CurrentMark([]models.TaskMark{started, made, due})
	require.True(t, ok)
	assert.Equal(t, models.Started, m.State, "only the last mark is undone")

	_, ok = models.CurrentMark([]models.TaskMark{made, made, due})
	assert.False(t, ok, "marked on two screens at once, undone once")

	m, ok = models.CurrentMark([]models.TaskMark{made, weighed, measured, made})
	require.True(t, ok)
	assert.Equal(t, made.At, m.At, "the first mark sets the time")
	assert.Equal(t, &g, m.BeverageG, "marking it again without a weight keeps the weight")
	assert.Equal(t, &tds, m.TDSPct)
}
