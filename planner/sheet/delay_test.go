package sheet

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func behind(s models.PrepSheet, hour, minute int, minutes float64) models.PrepSheet {
	return Delayed(s, sheetRequest().Setup, models.Delay{Minutes: minutes, Key: "k", At: sheetTime(hour, minute)})
}

func clocks(tasks []models.Task) []string {
	var out []string
	for _, t := range tasks {
		out = append(out, t.At.In(sheetZone).Format("15:04"))
	}
	return out
}

func TestBehindTheRestOfTheDayMoves(t *testing.T) {
	t.Parallel()
	first, second := flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(13, 0), 4000)
	p := sheetPlan(first, second)
	p.Pulls = []models.BeanPull{{Date: sheetDate, Coffee: "house", Lot: "h-12", G: 1200, FromPlace: "shelf", PullBy: sheetTime(13, 0)}}
	p.Ice.Checks = []models.IceQuota{{Date: sheetDate, DayPart: "afternoon", Maker: "maker-a", Due: sheetTime(14, 0), LevelG: 12_000, Quarters: 3, BinG: 16_000}}
	s := oneSheet(t, sheetRequest(), p)
	for i := range s.Tasks {
		if s.Tasks[i].Kind == models.TaskBrew && s.Tasks[i].At.Equal(sheetTime(9, 0)) {
			s.Tasks[i].State = models.Started
		}
	}
	was := ids(s)
	is := behind(s, 9, 5, 20)
	assert.Equal(t, []string{"09:00", "13:20"}, clocks(tasksOf(is, models.TaskBrew)), "what has begun stays")
	assert.Equal(t, []string{"09:15", "13:35"}, clocks(tasksOf(is, models.TaskChill)), "hot coffee does not wait")
	assert.Equal(t, []string{"09:25", "13:45"}, clocks(tasksOf(is, models.TaskStore)))
	assert.Equal(t, []string{"13:20"}, clocks(tasksOf(is, models.TaskPull)))
	assert.Equal(t, []string{"14:00"}, clocks(tasksOf(is, models.TaskIceCheck)))
	assert.ElementsMatch(t, was, ids(is))
	b := tasksOf(is, models.TaskBrew)[1]
	assert.True(t, b.Batch.Start.Equal(sheetTime(13, 20)))
	assert.True(t, b.Batch.Ready.Equal(sheetTime(13, 50)))
	assert.True(t, b.Batch.UseBy.Equal(second.UseBy.Add(20*time.Minute)))
	assert.Contains(t, plain(b.Say), "Use by 21:50")
	assert.Equal(t, b.Batch, tasksOf(is, models.TaskStore)[1].Batch)
	assert.Equal(t, []string{"20 min behind: 2 lines moved."}, plainAll(is.Changes))
	require.Len(t, is.Delays, 1)
	twice := behind(is, 10, 0, 10)
	assert.Equal(t, []string{"09:00", "13:30"}, clocks(tasksOf(twice, models.TaskBrew)))
	assert.Len(t, twice.Delays, 2)
}

func TestNothingIsPutOffPastClosingOrUseBy(t *testing.T) {
	t.Parallel()
	early := flashAt(sheetTime(10, 45), 5000)
	early.ID = "early"
	p := sheetPlan(flashAt(sheetTime(20, 20), 4000), early)
	p.Left = []models.LotLeft{{Batch: "early", Beverage: "flash", MadeAt: early.Ready, UseBy: early.UseBy, G: 600}}
	s := oneSheet(t, sheetRequest(), p)
	discard := tasksOf(s, models.TaskDiscard)
	require.NotEmpty(t, discard)
	is := behind(s, 16, 0, 60)
	assert.Equal(t, clocks(discard), clocks(tasksOf(is, models.TaskDiscard)))
	assert.Equal(t, "20:30", clocks(tasksOf(is, models.TaskBrew))[1], "people leave at 21:00")
	said := plain(is.Changes[1])
	assert.Equal(t, "People leave at 21:00, so this stays at 20:30: ", said[:len("People leave at 21:00, so this stays at 20:30: ")])
	assert.Contains(t, plain(is.Changes[2]), "(use-by time): 19:15 House flash: throw away")
}

func TestAReplanStaysCloseToDelayedBatches(t *testing.T) {
	t.Parallel()
	p := sheetPlan(flashAt(sheetTime(9, 0), 5200), flashAt(sheetTime(13, 0), 4000))
	s := oneSheet(t, sheetRequest(), p)
	assert.Equal(t, p.Batches, Kept(p.Batches, []models.PrepSheet{s}))
	kept := Kept(p.Batches, []models.PrepSheet{behind(s, 8, 0, 20)})
	assert.True(t, kept[0].Start.Equal(sheetTime(9, 20)))
	assert.True(t, kept[1].Start.Equal(sheetTime(13, 20)))
	assert.Equal(t, p.Batches[1].ID, kept[1].ID)
	again := PrepSheets(sheetRequest(), sheetPlan(kept...), []models.PrepSheet{behind(s, 8, 0, 20)}, sheetTime(8, 5))
	assert.Len(t, again[0].Delays, 1, "a later revision still knows of it")
	assert.Empty(t, again[0].Changes)
}

func TestTasksOfEarlierVersionsMoveToo(t *testing.T) {
	t.Parallel()
	s := models.PrepSheet{Date: sheetDate, Tasks: []models.Task{{ID: "a", At: sheetTime(9, 0), Kind: models.TaskWaterDraw, Say: "Draw 5 L.", State: models.Due}}}
	is := behind(s, 8, 0, 15)
	assert.Equal(t, []string{"09:15"}, clocks(is.Tasks))
	assert.True(t, is.Tasks[0].Until.IsZero())
}
