package facts_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestTheLogOfCareSaysWhenItWasLastDone(t *testing.T) {
	t.Parallel()
	s, _ := shopOf(t, func(x *models.Setup) {
		x.Site.Care = []models.Care{{Code: "descale", EveryDays: 60, At: "07:00", Min: 10, LastDone: new(saturday.AddDays(-70))}, {Code: "bin", At: "07:00", Min: 10}}
	})
	sheet := func(ago int, id, code string) {
		d := saturday.AddDays(-ago)
		require.NoError(t, s.PutSheets(ctx, kiosk, []models.PrepSheet{{Site: kiosk, Date: d, Tasks: []models.Task{
			{ID: id, At: clock(d, 7, 0), Station: "cleaning", Kind: models.TaskClean, Say: code, Care: &models.CareTask{Code: code, Due: d}}}}}))
	}
	mark := func(ago int, id, state string) {
		_, err := s.AddMark(ctx, kiosk, models.TaskMark{Task: id, State: state, At: clock(saturday.AddDays(-ago), 7, 10), Key: id + state}, clock(saturday, 5, 0))
		require.NoError(t, err)
	}
	sheet(50, "descale-a", "descale")
	sheet(20, "descale-b", "descale")
	sheet(1, "bin-a", "bin")
	mark(50, "descale-a", models.Made)
	mark(20, "descale-b", models.Skipped)
	mark(1, "bin-a", models.Made)
	r := gather(t, s, clock(saturday, 6, 30))
	require.Equal(t, saturday.AddDays(-50), *r.Site.Care[0].LastDone, "the later one was skipped")
	require.Equal(t, saturday.AddDays(-1), *r.Site.Care[1].LastDone)
	stored, _, err := s.Setup(ctx, kiosk)
	require.NoError(t, err)
	require.Equal(t, saturday.AddDays(-70), *stored.Site.Care[0].LastDone, "the stored set-up stays as it is")
	r = gather(t, s, clock(saturday.AddDays(-30), 6, 30))
	require.Equal(t, saturday.AddDays(-50), *r.Site.Care[0].LastDone, "marks of later times are not read")
	require.Nil(t, r.Site.Care[1].LastDone)
}
