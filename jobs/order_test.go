package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
)

// order returns the job of an order of the weekend, whose progress shows as the service shows it.
func (s *shop) order(key string, at time.Time) models.Job {
	s.t.Helper()
	args, err := json.Marshal(models.PlanOrder{From: "2026-07-11", Days: 2, OrderedAt: at})
	require.NoError(s.t, err)
	_, err = s.Store.PutProgress(s.t.Context(), s.site, models.Progress{Kind: models.JobPlan, Key: key, Step: models.StepQueued, StartedAt: at, At: at})
	require.NoError(s.t, err)
	return models.Job{Kind: models.JobPlan, Site: s.site, Key: key, Args: args}
}

// lastWork is the last live event of a job's progress.
func (s *shop) lastWork() (d struct {
	Kind, Step, Problem string
	Share               float64
	Over                bool
	Revision            int
}) {
	s.t.Helper()
	events := s.events("work")
	require.NotEmpty(s.t, events)
	require.NoError(s.t, json.Unmarshal(events[len(events)-1].Data, &d))
	return d
}

func (s *shop) progress() []models.Progress {
	s.t.Helper()
	list, err := s.Store.Progress(s.t.Context(), s.site)
	require.NoError(s.t, err)
	return list
}

func TestOrderedPlanReportsItsSteps(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T08:00:00+02:00")
	var seen []string
	compute := s.Compute
	s.Compute = func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
		for i, step := range []string{models.StepDemand, models.StepBatches, models.StepDays, models.StepFixes} {
			o.Progress(step, float64(i)/4)
			now := s.progress()
			require.Len(t, now, 1)
			seen = append(seen, now[0].Step)
			require.NotEmpty(t, now[0].Say)
		}
		return compute(ctx, r, o)
	}
	s.do(s.order("a", s.now))
	require.Equal(t, []string{models.StepDemand, models.StepBatches, models.StepDays, models.StepFixes}, seen)
	require.Empty(t, s.progress(), "it has ended")
	last := s.lastWork()
	require.True(t, last.Over)
	require.Equal(t, 1, last.Revision)
	require.Empty(t, last.Problem)
}

func TestOrderedPlanThatIsCancelledIsNotStored(t *testing.T) {
	t.Parallel()
	for name, when := range map[string]string{"before it begins": models.StepQueued, "while it is computed": models.StepDays} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newShop(t, "2026-07-09T08:00:00+02:00")
			j := s.order("a", s.now)
			if when == models.StepQueued {
				require.NoError(t, s.Store.StopWork(t.Context(), s.site, models.JobPlan))
			}
			s.Compute = func(ctx context.Context, _ models.PlanRequest, o planner.Options) (models.Plan, error) {
				require.NoError(t, s.Store.StopWork(t.Context(), s.site, models.JobPlan))
				<-ctx.Done() // a search that says nothing is stopped too
				return models.Plan{}, ctx.Err()
			}
			s.do(j)
			require.Zero(t, s.revision())
			require.Empty(t, s.progress())
			require.True(t, s.lastWork().Over)
			require.Zero(t, s.lastWork().Revision)
		})
	}
}

func TestLaterOrderReplacesOneThatIsComputed(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T08:00:00+02:00")
	first := s.order("a", s.now)
	compute := s.Compute
	s.Compute = func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
		s.order("b", s.now.Add(time.Second))
		o.Progress(models.StepDays, 0.5)
		return compute(ctx, r, o)
	}
	s.do(first)
	require.Zero(t, s.revision())
	require.Equal(t, "b", s.progress()[0].Key, "the later one goes on")
	require.False(t, s.lastWork().Over)
}

func TestOrderedPlanThatFailsSaysWhy(t *testing.T) {
	t.Parallel()
	for problem, err := range map[string]error{
		models.ProblemInvalid:  models.Invalid("/brewers/0", "a brewer", "there is none"),
		models.ProblemTooLong:  context.DeadlineExceeded,
		models.ProblemInternal: errors.New("disk full"),
		models.ProblemNoDemand: nil,
	} {
		t.Run(problem, func(t *testing.T) {
			t.Parallel()
			s := newShop(t, "2026-07-09T08:00:00+02:00")
			s.Compute = func(context.Context, models.PlanRequest, planner.Options) (models.Plan, error) {
				return models.Plan{}, err
			}
			if err == nil {
				s.demand = 0
			}
			s.do(s.order("a", s.now))
			require.Equal(t, problem, s.lastWork().Problem)
			require.Equal(t, problem, s.progress()[0].Problem, "it stays until somebody has read it")
			require.False(t, s.progress()[0].Alive(s.now))
			require.Zero(t, s.revision())
		})
	}
}

func TestOrderedPlanGoesOnAfterAShutdown(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T08:00:00+02:00")
	ctx, stop := context.WithCancel(t.Context())
	compute := s.Compute
	s.Compute = func(ctx context.Context, _ models.PlanRequest, _ planner.Options) (models.Plan, error) {
		stop()
		return models.Plan{}, ctx.Err()
	}
	j := s.order("a", s.now)
	_, err := s.orderedPlan(ctx, j)
	require.ErrorIs(t, err, context.Canceled, "the queue gives it to another")
	require.Len(t, s.progress(), 1, "pages show it still")
	s.Compute = compute
	s.do(j)
	require.Equal(t, 1, s.revision())
}

func TestDismissedPlanIsProposedAgainWhenOrderedAgain(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-09T08:00:00+02:00")
	s.do(s.order("a", s.now))
	require.NoError(t, s.Store.SetAside(t.Context(), s.site, 1, s.now))
	s.do(s.order("b", s.now))
	require.Equal(t, 1, s.revision(), "nothing has changed")
	heads, err := s.Store.Plans(t.Context(), s.site, models.Page{Limit: 1})
	require.NoError(t, err)
	require.Nil(t, heads.Rows[0].SetAsideAt)
}
