package store

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Sheets and plans stay stored as the version that made them wrote them. Reading completes them.
func TestStoredDocumentsOfTheVersionBeforeAreCompletedWhenRead(t *testing.T) {
	t.Parallel()
	doc, err := os.ReadFile("../../testdata/stored/before-task-fields.json")
	require.NoError(t, err)
	var raw struct {
		Sheet, Plan json.RawMessage
	}
	require.NoError(t, json.Unmarshal(doc, &raw))
	var sheet models.PrepSheet
	require.NoError(t, json.Unmarshal(raw.Sheet, &sheet))
	var plan models.Plan
	require.NoError(t, json.Unmarshal(raw.Plan, &plan))
	var request models.PlanRequest
	doc, err = os.ReadFile("../../testdata/requests/weekend.json")
	require.NoError(t, err)
	require.NoError(t, models.DecodeStrict(doc, &request))
	site := request.Site.Code

	s := openFile(t, filepath.Join(t.TempDir(), "shop.db"))
	_, _, err = s.PutSetup(ctx, request.Setup, "", t0)
	require.NoError(t, err)
	_, _, err = s.AddPlan(ctx, site, plan, request, t0)
	require.NoError(t, err)
	require.NoError(t, s.PutSheets(ctx, site, []models.PrepSheet{sheet}))
	write := func(query string, args ...any) {
		_, err := s.writeDB.Exec(query, args...)
		require.NoError(t, err)
	}
	write("UPDATE plan_documents SET plan = ?", string(raw.Plan))
	write("UPDATE sheets SET sheet = ?", string(raw.Sheet))
	var tasks struct{ Tasks []json.RawMessage }
	require.NoError(t, json.Unmarshal(raw.Sheet, &tasks))
	for i, task := range sheet.Tasks {
		write("UPDATE tasks SET task = ? WHERE id = ?", string(tasks.Tasks[i]), task.ID)
	}

	got, err := s.Sheet(ctx, site, sheet.Date)
	require.NoError(t, err)
	require.Len(t, got.Tasks, len(sheet.Tasks))
	for _, task := range got.Tasks {
		one, err := func() (models.Task, error) { _, _, x, _, err := s.Task(ctx, task.ID); return x, err }()
		require.NoError(t, err)
		require.Equal(t, task, one)
		if task.Kind == models.TaskBrew {
			require.NotEmpty(t, task.Lots)
		}
		require.Equal(t, task.Pull != nil, len(task.Pulls) == 1)
	}
	stored, _, err := s.LatestPlan(ctx, site)
	require.NoError(t, err)
	require.Equal(t, []models.LotUse{{Lot: "H-0612"}, {Lot: "H-0626"}}, stored.Batches[0].Lots)

	require.NoError(t, s.PutSheets(ctx, site, []models.PrepSheet{{Date: sheet.Date, Revision: 2}}))
	dropped, err := s.DroppedTasks(ctx, site, sheet.Date, sheet.Date.AddDays(1))
	require.NoError(t, err)
	require.Len(t, dropped, len(sheet.Tasks))
	for _, d := range dropped {
		require.Equal(t, d.Pull != nil, len(d.Pulls) == 1)
	}
}
