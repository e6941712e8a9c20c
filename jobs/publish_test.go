package jobs

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
)

func TestPublishesTheNextServiceDayOnce(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	s.batches = []models.BatchTask{batch(s.now.Add(14*time.Hour), 5200)}
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	sheet, err := s.Store.Sheet(t.Context(), s.site, "2026-07-09")
	require.NoError(t, err)
	require.Equal(t, 1, sheet.Revision)
	require.NotEmpty(t, sheet.Tasks)
	require.Len(t, s.events("sheet"), 1)
	require.Len(t, s.events("plan"), 1)

	s.now = s.now.Add(3 * time.Hour)
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	require.Equal(t, 1, s.revision(), "nothing changed: no new revision")
	require.Len(t, s.events("sheet"), 1)
	require.Equal(t, 2, s.computed, "a plan was computed")
	require.Equal(t, 1, s.withFixes, "its fixes were not, as nobody will see it")
}

func TestChangedPlanIsPublishedWithItsChanges(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	start := s.now.Add(14 * time.Hour)
	s.batches = []models.BatchTask{batch(start, 5200)}
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	s.now = s.now.Add(time.Hour)
	s.batches = []models.BatchTask{batch(start, 3600)}
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	sheet, err := s.Store.Sheet(t.Context(), s.site, "2026-07-09")
	require.NoError(t, err)
	require.Equal(t, 2, sheet.Revision)
	require.NotEmpty(t, sheet.Changes)
}

func TestPastDayIsNotPublished(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-11T09:00:00+02:00")
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	require.Zero(t, s.computed)
	require.Zero(t, s.revision())
}

func TestMissingDemandIsReportedAndTheJobEnds(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	s.Gather, s.Compute = facts.Gather, planner.ComputeWith
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	events := s.events("plan")
	require.Len(t, events, 1)
	var data struct{ Problem string }
	require.NoError(t, json.Unmarshal(events[0].Data, &data))
	require.Contains(t, data.Problem, "2026-07-09")
	require.Contains(t, data.Problem, "neither demand nor a forecast")
}
