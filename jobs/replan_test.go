package jobs

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
)

// morningShop is a shop at 08:00 on a day whose published sheet has a batch at 10:00.
func morningShop(t *testing.T) *shop {
	t.Helper()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	s.batches = []models.BatchTask{batch(s.now.Add(16*time.Hour), 5200)}
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	s.at("2026-07-09 08:00")
	return s
}

func proposal(t *testing.T, e models.LiveEvent) bool {
	t.Helper()
	var data struct{ Proposal bool }
	require.NoError(t, json.Unmarshal(e.Data, &data))
	return data.Proposal
}

func TestSmallChangeIsPublished(t *testing.T) {
	t.Parallel()
	s := morningShop(t)
	s.batches = []models.BatchTask{batch(s.batches[0].Start.Add(-30*time.Minute), 5800)}
	s.do(models.ReplanJob(s.site, s.now))
	sheet, err := s.Store.Sheet(t.Context(), s.site, "2026-07-09")
	require.NoError(t, err)
	require.Equal(t, 2, sheet.Revision)
	require.NotEmpty(t, sheet.Changes)
	events := s.events("plan")
	require.False(t, proposal(t, events[len(events)-1]))
}

func TestLargeChangeBecomesAProposal(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func([]models.BatchTask) []models.BatchTask{
		"one more": func(b []models.BatchTask) []models.BatchTask {
			return append(b, batch(b[0].Start.Add(3*time.Hour), 4000))
		},
		"one removed": func([]models.BatchTask) []models.BatchTask { return nil },
		"far later": func(b []models.BatchTask) []models.BatchTask {
			return []models.BatchTask{batch(b[0].Start.Add(2*time.Hour), 5200)}
		},
		"half": func(b []models.BatchTask) []models.BatchTask {
			return []models.BatchTask{batch(b[0].Start, 2600)}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := morningShop(t)
			s.batches = change(s.batches)
			s.do(models.ReplanJob(s.site, s.now))
			require.Equal(t, 2, s.revision(), "the proposal is stored")
			sheet, err := s.Store.Sheet(t.Context(), s.site, "2026-07-09")
			require.NoError(t, err)
			require.Equal(t, 1, sheet.Revision, "the published sheet stays")
			events := s.events("plan")
			require.True(t, proposal(t, events[len(events)-1]))
		})
	}
}

func TestUnchangedReplanStoresNothing(t *testing.T) {
	t.Parallel()
	s := morningShop(t)
	published := s.withFixes
	s.do(models.ReplanJob(s.site, s.now))
	require.Equal(t, 1, s.revision())
	require.Len(t, s.events("sheet"), 1)
	require.Equal(t, published, s.withFixes, "nobody sees a plan that is not stored")

	s.warnings = []models.Warning{short(61, 9000, s.now.Add(5*time.Hour))}
	s.now = s.now.Add(time.Minute)
	s.do(models.ReplanJob(s.site, s.now))
	require.Equal(t, published+1, s.withFixes, "a new warning is shown with its fixes")
}

func TestReplanWithoutAPlanDoesNothing(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T08:00:00+02:00")
	s.do(models.ReplanJob(s.site, s.now))
	require.Zero(t, s.computed)
	require.Zero(t, s.revision())
}

func TestChangesWithinAMinuteShareOneReplan(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 9, 8, 0, 5, 0, time.UTC)
	a, b := models.ReplanJob("x", at), models.ReplanJob("x", at.Add(50*time.Second))
	require.Equal(t, a, b)
	require.True(t, a.RunAt.After(at.Add(50*time.Second)), "it runs after the last change")
	require.NotEqual(t, a, models.ReplanJob("x", at.Add(time.Minute)))
}

func TestRequestedPlanIsStoredButNotPublished(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T08:00:00+02:00")
	args, err := json.Marshal(models.PlanOrder{From: "2026-07-11", Days: 2})
	require.NoError(t, err)
	s.do(models.Job{Kind: models.JobPlan, Site: s.site, Key: "order", Args: args})
	p, _, err := s.Store.LatestPlan(t.Context(), s.site)
	require.NoError(t, err)
	require.Equal(t, models.Date("2026-07-11"), p.From)
	require.Equal(t, 2, p.Days)
	_, err = s.Store.Sheet(t.Context(), s.site, "2026-07-11")
	require.Equal(t, models.CodeNotFound, models.CodeOf(err))
}

func TestReplanFromAnOutdatedPlanIsRetried(t *testing.T) {
	t.Parallel()
	s := morningShop(t)
	s.batches = []models.BatchTask{batch(s.batches[0].Start, 5600)}
	j := models.ReplanJob(s.site, s.now)
	effect, err := s.work()[models.JobReplan](t.Context(), j)
	require.NoError(t, err)

	args, err := json.Marshal(models.PlanOrder{From: "2026-07-09", Days: 3})
	require.NoError(t, err)
	s.now = s.now.Add(time.Second)
	s.do(models.Job{Kind: models.JobPlan, Site: s.site, Key: "the manager's", Args: args})

	require.ErrorContains(t, s.Store.Within(t.Context(), effect), "plan 2 was stored")
	require.Equal(t, 2, s.revision())
	s.now = s.now.Add(time.Second)
	s.do(j)
	p, _, err := s.Store.LatestPlan(t.Context(), s.site)
	require.NoError(t, err)
	require.Equal(t, 3, p.Revision)
	require.Equal(t, 3, p.Days, "the plan that the manager made in the meantime is kept")
}

func TestPendingOrDismissedProposalIsNotRepeated(t *testing.T) {
	t.Parallel()
	s := morningShop(t)
	published := s.batches
	more := append(append([]models.BatchTask(nil), published...), batch(published[0].Start.Add(3*time.Hour), 4000))
	s.batches = more
	s.do(models.ReplanJob(s.site, s.now))
	require.Equal(t, 2, s.revision())
	s.now = s.now.Add(time.Minute)
	s.do(models.ReplanJob(s.site, s.now))
	require.Equal(t, 2, s.revision(), "it is already pending")

	require.NoError(t, s.Store.SetAside(t.Context(), s.site, 2, s.now))
	var before []models.BatchTask
	compute := s.Compute
	s.Compute = func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
		before = o.Before
		return compute(ctx, r, o)
	}
	s.now = s.now.Add(time.Minute)
	s.do(models.ReplanJob(s.site, s.now))
	require.Equal(t, 2, s.revision(), "it was dismissed")
	require.Len(t, before, len(published), "the next plan stays close to the published one")

	s.batches, s.now = published, s.now.Add(time.Minute)
	s.do(models.ReplanJob(s.site, s.now))
	require.Equal(t, 2, s.revision(), "the published plan is not a proposal")

	s.batches, s.now = append(more, batch(published[0].Start.Add(5*time.Hour), 4000)), s.now.Add(time.Minute)
	s.do(models.ReplanJob(s.site, s.now))
	require.Equal(t, 3, s.revision(), "a different plan is a new proposal")
}
