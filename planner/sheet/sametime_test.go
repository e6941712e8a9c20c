package sheet

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

func TestTasksForTwoPeopleAtTheSameTime(t *testing.T) {
	t.Parallel()
	task := func(id, kind, station string, from, to int) models.Task {
		return models.Task{ID: id, Kind: kind, Station: station, At: sheetTime(9, from), Until: sheetTime(9, to), Hands: 1}
	}
	batch, other := &models.BatchTask{ID: "b1"}, &models.BatchTask{ID: "b2"}
	brew := task("brew", models.TaskBrew, "left", 10, 15)
	brew.Batch, brew.Beverage, brew.Lots = batch, "flash", []models.LotUse{{Lot: "r1"}}
	second := task("second", models.TaskBrew, "right", 15, 20)
	second.Batch, second.Beverage = other, "chilled"
	assert.True(t, SameTime(&brew, &second), "two brewers")
	assert.True(t, SameTime(&second, &brew), "in either order")

	for name, change := range map[string]func(a, b *models.Task){
		"a lift by two":      func(a, _ *models.Task) { a.Hands = 2 },
		"one brewer":         func(_, b *models.Task) { b.Station = "left" },
		"steps of one batch": func(_, b *models.Task) { b.Batch = batch },
		"parts of one line":  func(_, b *models.Task) { b.PartOf = "brew" },
		"the same task":      func(_, b *models.Task) { b.ID = "brew" },
		"the handover":       func(_, b *models.Task) { b.Kind = models.TaskHandover },
		"what the look decides": func(_, b *models.Task) {
			b.Kind, b.Choice, b.Batch, b.Beverage = models.TaskLook, &models.Choice{}, nil, "flash"
		},
	} {
		a, b := brew, second
		change(&a, &b)
		assert.False(t, SameTime(&a, &b), name)
	}

	beans := task("beans", models.TaskPull, "beans", 0, 2)
	beans.Pulls = []models.BeanPull{{Lot: "r1"}}
	assert.False(t, SameTime(&beans, &brew), "its beans must be there first")
	assert.True(t, SameTime(&beans, &second), "another coffee's beans")
	water := task("water", models.TaskWaterDraw, "water", 0, 5)
	assert.False(t, SameTime(&water, &brew), "its water must be there first")
	water.Until = sheetTime(9, 12)
	assert.True(t, SameTime(&water, &brew), "the sheet has both at the same time")
}
