package jobs

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/cores"
)

// slow makes the planner end only when its time is up, at a stage, and the brief plan at once unless it is slow too.
func (s *shop) slow(at string, brief bool) (asked *[]planner.Options) {
	asked = &[]planner.Options{}
	compute := s.Compute
	s.Compute = func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
		*asked = append(*asked, o)
		if o.WithoutFixes && !brief {
			return compute(ctx, r, o)
		}
		if at == models.StepFixes && o.FixesIf != nil {
			p, err := compute(ctx, r, planner.Options{WithoutFixes: true})
			if err != nil || !o.FixesIf(p) {
				return p, err
			}
		}
		<-ctx.Done()
		return models.Plan{}, ctx.Err()
	}
	s.orderedTime, s.backgroundTime = 20*time.Millisecond, 20*time.Millisecond
	return asked
}

func TestAPlanWhoseTimeIsUpGoesWithoutItsFixes(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	asked := s.slow(models.StepFixes, true)
	s.do(s.order("a", s.now))
	require.Equal(t, 1, s.revision())
	require.Empty(t, s.lastWork().Problem)
	require.Len(t, *asked, 1, "what was found is not computed again")
	s.now = s.now.Add(time.Minute)
	s.batches = []models.BatchTask{batch(s.now.Add(15*time.Hour), 5000)}
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	require.Len(t, s.events("sheet"), 1)
}

func TestAPlanThatHasNothingWhenItsTimeIsUpSettlesForABriefOne(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	asked := s.slow(models.StepBatches, false)
	s.do(s.order("a", s.now))
	require.Equal(t, 1, s.revision())
	require.Len(t, *asked, 2)
	last := (*asked)[1]
	last.Progress, last.FixesIf = nil, nil
	require.Equal(t, planner.Options{}.Brief(), last)
}

func TestAnAttemptAfterOneThatTimedOutIsBriefAtOnce(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	asked := s.slow(models.StepBatches, false)
	s.batches = []models.BatchTask{batch(s.now.Add(15*time.Hour), 5000)}
	s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09", TimedOut: 1})
	require.Len(t, *asked, 1)
	require.Len(t, s.events("sheet"), 1)
}

func TestJobsThatNeverEndInTimeAreGivenUpWithAReason(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	s.slow(models.StepBatches, true)
	j := models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"}
	for ; j.TimedOut < mostTimedOut-1; j.TimedOut++ {
		_, err := s.publish(t.Context(), j)
		require.ErrorIs(t, err, context.DeadlineExceeded, "it is tried again")
	}
	s.do(j)
	events := s.events("plan")
	require.Len(t, events, 1)
	var said struct{ Problem string }
	require.NoError(t, json.Unmarshal(events[0].Data, &said))
	require.Contains(t, said.Problem, "not ready in time")

	s.do(s.order("a", s.now))
	require.Equal(t, models.ProblemTooLong, s.lastWork().Problem, "who ordered a plan is told at once")
}

func TestAnOrderedPlanTakesTheCoreThatBackgroundWorkLeaves(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T18:00:00+02:00")
	s.Cores = cores.New(2)
	release, err := s.Cores.InBackground(t.Context())
	require.NoError(t, err)
	defer release()
	parallel := -1
	compute := s.Compute
	s.Compute = func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
		parallel = o.Parallel
		return compute(ctx, r, o)
	}
	s.do(s.order("a", s.now))
	require.Equal(t, 1, s.revision())
	require.Zero(t, parallel)

	ended := make(chan struct{})
	go func() {
		defer close(ended)
		s.do(models.Job{Kind: models.JobPublish, Site: s.site, Key: "2026-07-09"})
	}()
	for _, behind := s.Cores.Waiting(); behind == 0; _, behind = s.Cores.Waiting() {
		time.Sleep(time.Millisecond)
	}
	require.Len(t, s.events("sheet"), 0)
	release()
	<-ended
	require.Equal(t, 1, parallel, "a background plan uses no more goroutines than cores it may have")
}

func TestLearningAndReplaysTakeACore(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	s.Cores = cores.New(1)
	release, err := s.Cores.ForPeople(t.Context())
	require.NoError(t, err)
	defer release()
	for _, work := range []models.Job{s.refitJob(), {Kind: models.JobReplay, Site: s.site, Key: "1", Args: []byte(`{}`)}} {
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan error)
		go func() {
			_, err := s.work()[work.Kind](ctx, work)
			ended <- err
		}()
		for _, behind := s.Cores.Waiting(); behind == 0; _, behind = s.Cores.Waiting() {
			select {
			case err := <-ended:
				t.Fatalf("%s ran without a core: %v", work.Kind, err)
			case <-time.After(time.Millisecond):
			}
		}
		cancel()
		require.ErrorIs(t, <-ended, context.Canceled)
	}
}
