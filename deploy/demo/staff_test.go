package demo_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
)

func TestStaffMarkWhatIsDueAFewMinutesLater(t *testing.T) {
	t.Parallel()
	at := halfPastNine
	tasks := []models.Task{
		{ID: "brew", At: at, Mark: true, State: models.Due},
		{ID: "strain", At: at.Add(30 * time.Minute), PartOf: "brew", State: models.Due},
		{ID: "look", At: at, Mark: true, State: models.Due, Kind: models.TaskLook, Beverage: "house"},
		{ID: "fridge", At: at, Mark: true, State: models.Due, Kind: models.TaskTempLog, Reading: &models.Reading{LimitC: 5}},
		{ID: "done", At: at, Mark: true, State: models.Made},
		{ID: "unmarked", At: at, State: models.Due},
	}
	left := func(string) float64 { return 4200 }
	assert.Empty(t, demo.Marks(tasks, at, left), "nobody is done at once")
	by := map[string]models.TaskMark{}
	for _, m := range demo.Marks(tasks, at.Add(15*time.Minute), left) {
		assert.True(t, m.At.After(at) && !m.At.After(at.Add(15*time.Minute)))
		by[m.Task] = m
	}
	require.Len(t, by, 3)
	assert.Equal(t, models.Started, by["brew"].State, "its last step is to come")
	assert.InDelta(t, 4200, *by["look"].LeftG, 0)
	assert.InDelta(t, 3.5, *by["fridge"].TempC, 0)

	tasks[0].State = models.Started
	marks := demo.Marks(tasks[:2], at.Add(time.Hour), left)
	require.Len(t, marks, 1)
	assert.Equal(t, models.Made, marks[0].State)
	assert.True(t, marks[0].At.After(at.Add(30*time.Minute)))
}

func TestTheDemoBeginsWhenItIsTold(t *testing.T) {
	t.Parallel()
	loc, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	wednesday := time.Date(2026, 7, 8, 13, 0, 0, 0, loc)
	for at, want := range map[string]struct{ story, start string }{
		"09:30":            {"2026-07-10 18:00", "2026-07-11 09:30"},
		"2026-08-16T11:00": {"2026-08-14 18:00", "2026-08-16 11:00"}, // a Sunday
		"2026-08-13T08:00": {"2026-08-13 08:00", "2026-08-13 08:00"}, // before the evening on which the weekend is planned
	} {
		s, start, err := demo.On(at, wednesday)
		require.NoError(t, err, at)
		assert.Equal(t, want.story, s.Now.In(loc).Format("2006-01-02 15:04"), at)
		assert.Equal(t, want.start, start.In(loc).Format("2006-01-02 15:04"), at)
		assert.Equal(t, time.Saturday, s.Saturday.Weekday(), at)
	}
	saturday := time.Date(2026, 7, 11, 22, 0, 0, 0, loc)
	s, _, err := demo.On("09:30", saturday)
	require.NoError(t, err)
	assert.Equal(t, models.Date("2026-07-11"), s.Saturday, "today's Saturday, however late it is")
	_, _, err = demo.On("noon", wednesday)
	require.Equal(t, models.CodeInvalid, models.CodeOf(err))
}
