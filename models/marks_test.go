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

func TestACorrectionReplacesTheMark(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 11, 8, 0, 0, 0, time.UTC)
	made := models.TaskMark{State: models.Made, At: at, BeverageG: new(4800.0), TDSPct: new(1.42)}
	right := models.TaskMark{State: models.Made, At: at.Add(-time.Hour), BeverageG: new(4300.0), Corrects: true}
	m, ok := models.CurrentMark([]models.TaskMark{made, right})
	require.True(t, ok)
	assert.Equal(t, right, m, "its time and amounts, and no strength that it does not state")
	assert.True(t, right.NeedsReplan(models.Task{}), "the book changes")
	m, _ = models.CurrentMark([]models.TaskMark{made, {State: models.Skipped, At: at, Corrects: true}})
	assert.Equal(t, models.Skipped, m.State)
	_, ok = models.CurrentMark([]models.TaskMark{made, right, {State: models.Due}})
	assert.False(t, ok, "undone together")
}

func TestTheMarkOfALineCountsForItsSteps(t *testing.T) {
	t.Parallel()
	mark := func(states ...string) (out []models.TaskMark) {
		for _, s := range states {
			out = append(out, models.TaskMark{State: s})
		}
		return out
	}
	step, alone := models.Task{ID: "chill", PartOf: "brew"}, models.Task{ID: "draw"}
	assert.Equal(t, models.Made, step.StateOf(nil, mark(models.Made)))
	assert.Equal(t, models.Skipped, step.StateOf(nil, mark(models.Skipped)))
	assert.Equal(t, models.Due, step.StateOf(nil, mark(models.Started)), "a batch that is begun is still to be cooled")
	assert.Equal(t, models.Due, step.StateOf(nil, mark(models.Made, models.Due)))
	assert.Equal(t, models.Made, step.StateOf(mark(models.Made), nil))
	assert.Equal(t, models.Due, alone.StateOf(nil, mark(models.Made)))
}
