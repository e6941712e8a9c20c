package sheet

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// readings are the times at which a day's sheet asks for the cold store's temperature.
func readings(t *testing.T, r models.PlanRequest) (out []string) {
	t.Helper()
	p := sheetPlan()
	p.ColdLimitC = 5
	for _, x := range tasksOf(oneSheet(t, r, p), models.TaskTempLog) {
		out = append(out, x.At.In(sheetZone).Format("15:04"))
	}
	return out
}

func TestTheFridgeIsReadTwiceOnALongDayAndOnceOnAShortOne(t *testing.T) {
	t.Parallel()
	r := sheetRequest()
	assert.Equal(t, []string{"06:15", "19:30"}, readings(t, r), "people are there from 06:00 to 21:00")
	r.Site.Opening[0].To = "08:30"
	assert.Equal(t, []string{"06:15"}, readings(t, r), "people are there for three and a half hours")
	r.Site.Opening[0].To = "20:00"
	r.Events = []models.Event{{From: sheetTime(0, 0), To: sheetTime(24, 0), Closed: true}}
	assert.Empty(t, readings(t, r), "nobody is there on a closed day")
	r.Events = nil
	r.Attention = []models.Attention{{From: sheetTime(6, 0), To: sheetTime(7, 0), Starts: 0}}
	assert.Equal(t, []string{"07:15", "19:30"}, readings(t, r), "nothing begins in the first hour")
}

func TestTwoBottlesOfOneConcentrateAreTwoTasks(t *testing.T) {
	t.Parallel()
	p := sheetPlan()
	for _, at := range []time.Time{sheetTime(-8, 0), sheetTime(6, 30)} { // the first in good time, on the day before
		p.Mixes = append(p.Mixes, models.Mix{At: at, Code: "A", MakesML: 500, WaterML: 400, MLPerL: 1, GoodTo: at.AddDate(0, 0, 7)})
	}
	mixes := tasksOf(oneSheet(t, sheetRequest(), p), models.TaskMix)
	require.Len(t, mixes, 2)
	assert.NotEqual(t, mixes[0].ID, mixes[1].ID)
}
