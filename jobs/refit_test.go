package jobs

import (
	"context"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
)

// seasonShop is a shop with a season of two drinks, and a clock that advances 250 ms with each call.
func seasonShop(t *testing.T) *shop {
	t.Helper()
	s := newShop(t, "2026-07-09T03:30:00+02:00")
	story, err := demo.At(s.now)
	require.NoError(t, err)
	story.Setup.Drinks = story.Setup.Drinks[:2]
	story.Setup.Site.Code = "learning"
	s.site = "learning"
	require.NoError(t, story.Keep(t.Context(), s.Store, func(string, ...any) {}))
	s.Now = func() time.Time {
		s.now = s.now.Add(250 * time.Millisecond)
		return s.now
	}
	s.replayTimeout = time.Hour // a busy machine takes its time
	return s
}

func (s *shop) refitJob() models.Job {
	return models.Job{Kind: models.JobRefit, Site: s.site, Key: "2026-07-09"}
}

func TestRefitReportsProgress(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	effect, err := s.refit(t.Context(), s.refitJob())
	require.NoError(t, err)
	now, err := s.Store.Progress(t.Context(), s.site)
	require.NoError(t, err)
	require.Len(t, now, 1)
	require.Equal(t, models.JobRefit, now[0].Kind)
	require.Greater(t, now[0].Share, 0.9)

	require.NoError(t, s.Store.Within(t.Context(), effect))
	now, err = s.Store.Progress(t.Context(), s.site)
	require.NoError(t, err)
	require.Empty(t, now, "the job has ended")
	events := s.events("work")
	require.Greater(t, len(events), 5)
	require.Less(t, len(events), 20, "the screens are not flooded")
	share, over := -1.0, false
	for _, e := range events {
		var d struct {
			Kind, Say string
			Share     float64
			Over      bool
		}
		require.NoError(t, json.Unmarshal(e.Data, &d))
		require.Equal(t, models.JobRefit, d.Kind)
		require.NotEmpty(t, d.Say)
		require.GreaterOrEqual(t, d.Share, share)
		require.False(t, over)
		share, over = d.Share, d.Over
	}
	require.True(t, over, "the last event reports the end")
	record, found, err := s.Store.TrackRecord(t.Context(), s.site)
	require.NoError(t, err)
	require.True(t, found)
	require.Equal(t, 56, record.All.Forecast.Days)
}

func TestStoppedRefitChangesNothing(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	calls, ticking := 0, s.Now
	s.Now = func() time.Time {
		if calls++; calls == 40 {
			require.NoError(t, s.Store.StopWork(t.Context(), s.site, models.JobRefit))
		}
		return ticking()
	}
	effect, err := s.refit(t.Context(), s.refitJob())
	require.NoError(t, err, "the job completes and is not retried before the next night")
	require.NoError(t, s.Store.Within(t.Context(), effect))
	s.requireNoRefit()
}

func TestRefitIsRetriedAfterShutdown(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	calls, ticking := 0, s.Now
	s.Now = func() time.Time {
		if calls++; calls == 60 {
			cancel()
		}
		return ticking()
	}
	_, err := s.refit(ctx, s.refitJob())
	require.ErrorIs(t, err, context.Canceled, "the queue retries it")
	s.requireNoRefit()
	s.do(s.refitJob())
	state, err := s.Store.ForecastState(t.Context(), s.site)
	require.NoError(t, err)
	require.Equal(t, models.Date("2026-07-08"), state.Through)
}

// requireNoRefit checks that neither a forecast nor progress is stored and that the end was reported.
func (s *shop) requireNoRefit() {
	s.t.Helper()
	state, err := s.Store.ForecastState(s.t.Context(), s.site)
	require.NoError(s.t, err)
	require.Nil(s.t, state.Learnt)
	_, found, err := s.Store.TrackRecord(s.t.Context(), s.site)
	require.NoError(s.t, err)
	require.False(s.t, found)
	now, err := s.Store.Progress(s.t.Context(), s.site)
	require.NoError(s.t, err)
	require.Empty(s.t, now)
	events := s.events("work")
	require.NotEmpty(s.t, events)
	require.Contains(s.t, string(events[len(events)-1].Data), `"over":true`)
}
