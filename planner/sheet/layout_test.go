package sheet

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// shiftDay is a day with somebody there from 6:00 to 21:00 and a number of people free.
func shiftDay(people int) *workday {
	return &workday{
		presence: presence{there: []models.Span{{From: sheetTime(6, 0), To: sheetTime(21, 0)}}}, work: models.DefaultWorkMin(),
		hands: func(time.Time) int { return people },
	}
}

func taskAt(kind, id string, hour, minute int) models.Task {
	t := models.Task{ID: id, At: sheetTime(hour, minute), Kind: kind, Station: id, State: models.Due}
	if kind == models.TaskBrew || kind == models.TaskChill || kind == models.TaskStrain || kind == models.TaskStore {
		t.Batch = &models.BatchTask{ID: id}
	}
	return t
}

func due(t *models.Task) bool { return t.State != models.Due }

// laid lists tasks as "08:55–09:00 pull".
func laid(tasks []models.Task) []string {
	var out []string
	for _, t := range tasks {
		out = append(out, fmt.Sprintf("%s–%s %s", t.At.In(sheetZone).Format("15:04"), t.Until.In(sheetZone).Format("15:04"), t.ID))
	}
	return out
}

func TestOnePersonDoesOneThingAtATime(t *testing.T) {
	t.Parallel()
	tasks := []models.Task{
		taskAt(models.TaskPull, "beans", 9, 0), taskAt(models.TaskWaterDraw, "water", 9, 0), taskAt(models.TaskIceTake, "trays", 9, 0), taskAt(models.TaskBrew, "left", 9, 0),
	}
	assert.Equal(t, []string{"08:50–08:55 water", "08:55–08:57 beans", "09:00–09:05 left", "09:05–09:10 trays"}, laid(shiftDay(1).layOut(tasks, due)),
		"what is needed by nine comes before, trays that freeze until then after")
	assert.Equal(t, []string{"08:55–08:57 beans", "09:00–09:05 left", "09:00–09:05 water", "09:05–09:10 trays"}, laid(shiftDay(2).layOut(tasks, due)))
	free := shiftDay(1)
	free.hands = nil
	assert.Equal(t, []string{"09:00–09:05 left", "09:00–09:05 trays", "09:00–09:05 water", "09:00–09:02 beans"}, laid(free.layOut(tasks, due)),
		"without people listed nothing moves: brewers first, then ice, water, beans")
}

func TestMovedTasksKeepThePlansTime(t *testing.T) {
	t.Parallel()
	out := shiftDay(1).layOut([]models.Task{taskAt(models.TaskBrew, "left", 9, 0), taskAt(models.TaskWaterDraw, "water", 9, 0)}, due)
	assert.True(t, out[0].PlannedAt().Equal(sheetTime(9, 0)))
	assert.False(t, out[0].At.Equal(out[0].PlannedAt()))
	assert.True(t, out[1].Planned.IsZero())
}

func TestNothingIsAskedWhenNobodyIsThereOrMayBegin(t *testing.T) {
	t.Parallel()
	d := shiftDay(1)
	d.shut = []models.Span{{From: sheetTime(8, 50), To: sheetTime(9, 10)}}
	out := d.layOut([]models.Task{taskAt(models.TaskWaterDraw, "water", 9, 0), taskAt(models.TaskCount, "count", 21, 0), taskAt(models.TaskPull, "beans", 5, 0)}, due)
	assert.Equal(t, []string{"06:00–06:02 beans", "08:45–08:50 water", "20:55–21:00 count"}, laid(out), "beans needed before anybody is there are got out by whoever comes first")
	d.from = sheetTime(8, 52)
	assert.Equal(t, []string{"09:10–09:15 water"}, laid(d.layOut([]models.Task{taskAt(models.TaskWaterDraw, "water", 9, 0)}, due)), "nothing is moved into the past")
	assert.Equal(t, []string{"09:10–09:15 left"}, laid(d.layOut([]models.Task{taskAt(models.TaskStore, "left", 8, 30)}, due)), "what is due already is done as soon as it may begin")
}

func TestLiftsWaitForASecondPerson(t *testing.T) {
	t.Parallel()
	d := shiftDay(1)
	d.hands = func(at time.Time) int {
		if at.Before(sheetTime(9, 10)) {
			return 1
		}
		return 2
	}
	store := taskAt(models.TaskStore, "tub", 9, 0)
	store.Hands = 2
	assert.Equal(t, []string{"09:10–09:15 tub"}, laid(d.layOut([]models.Task{store}, due)))
}

func TestStepsOfABatchStayInOrder(t *testing.T) {
	t.Parallel()
	chill, store := taskAt(models.TaskChill, "left", 9, 0), taskAt(models.TaskStore, "left", 9, 5)
	chill.Until, store.ID = sheetTime(9, 4), "left stored"
	store.Batch = chill.Batch
	out := shiftDay(1).layOut([]models.Task{store, chill, taskAt(models.TaskBrew, "right", 9, 0)}, due)
	assert.Equal(t, []string{"09:00–09:05 right", "09:05–09:09 left", "09:10–09:15 left stored"}, laid(out))
}

func TestBegunTasksAreNotMoved(t *testing.T) {
	t.Parallel()
	draw := taskAt(models.TaskWaterDraw, "water", 9, 0)
	draw.State = models.Made
	assert.Equal(t, []string{"09:00–09:05 left", "09:00–09:05 water"}, laid(shiftDay(1).layOut([]models.Task{draw, taskAt(models.TaskBrew, "left", 9, 0)}, due)))
}

func TestStrainingLeavesHandsFreeMostOfItsTime(t *testing.T) {
	t.Parallel()
	strain := taskAt(models.TaskStrain, "tub", 9, 0)
	strain.Until = sheetTime(9, 40)
	out := shiftDay(1).layOut([]models.Task{strain, taskAt(models.TaskWaterDraw, "water", 9, 20)}, due)
	assert.Equal(t, []string{"09:00–09:40 tub", "09:20–09:25 water"}, laid(out))
	out = shiftDay(1).layOut([]models.Task{strain, taskAt(models.TaskWaterDraw, "water", 9, 10)}, due)
	assert.Equal(t, "08:55–09:00 water", laid(out)[0])
}

func TestHandsFreeForPrepAreThePlans(t *testing.T) {
	t.Parallel()
	require.Nil(t, handsFree(nil), "nobody is listed: no limit")
	free := handsFree([]models.HalfHour{{At: sheetTime(9, 0), OnShift: 3, FreeMin: 60}, {At: sheetTime(9, 30), OnShift: 2, FreeMin: 59}, {At: sheetTime(10, 0), OnShift: 2, FreeMin: 12}})
	assert.Equal(t, 2, free(sheetTime(9, 29)))
	assert.Equal(t, 1, free(sheetTime(9, 30)))
	assert.Equal(t, 1, free(sheetTime(10, 10)), "somebody finds the time for a batch an hour")
	assert.Equal(t, 1, free(sheetTime(6, 0)), "setting up before the first shift")
}

func TestBeansOfAMorningAreGotOutAtOnce(t *testing.T) {
	t.Parallel()
	p := sheetPlan()
	pull := func(coffee, lot, place string, g, open float64, hour int) models.BeanPull {
		return models.BeanPull{Date: sheetDate, Coffee: coffee, Lot: lot, G: g, OpenG: open, FromPlace: place, PullBy: sheetTime(hour, 0), UseFrom: sheetTime(hour+12, 0)}
	}
	p.Pulls = []models.BeanPull{pull("house", "h-12", "shelf", 1200, 200, 7), pull("valley", "v-3", "shelf", 500, 0, 9), pull("ember", "e-1", "shelf", 300, 300, 13), pull("valley", "v-2", "freezer", 500, 0, 8)}
	s := oneSheet(t, sheetRequest(), p)
	pulls := tasksOf(s, models.TaskPull)
	require.Len(t, pulls, 3)
	assert.Equal(t, "Get out beans: 1 200 g house, lot h-12, first the 200 g in the open bag; 500 g valley, lot v-3.", plain(pulls[0].Say))
	assert.Equal(t, p.Pulls[:2], pulls[0].Pulls)
	assert.True(t, pulls[0].At.Equal(sheetTime(7, 0)))
	assert.Contains(t, pulls[1].Say, "freezer")
	assert.True(t, pulls[2].At.Equal(sheetTime(13, 0)), "too far ahead for one trip")
	again := oneSheet(t, sheetRequest(), p, s)
	assert.Equal(t, s, again)
}

func TestAChangeOfShiftHandsOver(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	r.Site.People = []models.OnShift{{Weekday: "sat", From: "06:00", To: "13:10", OnShift: 1}, {Weekday: "sat", From: "13:10", To: "21:00", OnShift: 2}}
	steep := models.BatchTask{Brewer: "tub", Beverage: "steep", Date: sheetDate, Start: sheetTime(12, 0), StrainAt: sheetTime(32, 0), Ready: sheetTime(32, 30), UseBy: sheetTime(56, 0), BeverageG: 5600}
	s := oneSheet(t, r, sheetPlan(flashAt(sheetTime(13, 0), 5200), flashAt(sheetTime(15, 0), 5200), steep))
	handovers := tasksOf(s, models.TaskHandover)
	require.Len(t, handovers, 1, "coming in the morning and leaving at night are no handover")
	h := handovers[0]
	assert.True(t, h.At.Equal(sheetTime(13, 10)))
	assert.Equal(t, h.At, h.Until)
	assert.Zero(t, h.Hands)
	assert.Equal(t, "Handover. In progress: left, House flash, until 13:25; tub, Slow steep, until Sun 08:40. Next: 15:00 left, House flash; Sun 08:00 tub, Slow steep.", plain(h.Say))
}
