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

// learningShop is a shop with a season of two drinks, and a clock that goes a quarter of a second with each look at it.
func learningShop(t *testing.T) *shop {
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
	return s
}

func (s *shop) job() models.Job {
	return models.Job{Kind: models.JobRefit, Site: s.site, Key: "2026-07-09"}
}

func TestALongLearningTellsHowFarItIs(t *testing.T) {
	t.Parallel()
	s := learningShop(t)
	effect, err := s.refit(t.Context(), s.job())
	require.NoError(t, err)
	now, err := s.Store.Progress(t.Context(), s.site)
	require.NoError(t, err)
	require.Len(t, now, 1)
	require.Equal(t, models.JobRefit, now[0].Kind)
	require.Greater(t, now[0].Share, 0.9)

	require.NoError(t, s.Store.Within(t.Context(), effect))
	now, err = s.Store.Progress(t.Context(), s.site)
	require.NoError(t, err)
	require.Empty(t, now, "it is over")
	told := s.events("work")
	require.Greater(t, len(told), 5)
	require.Less(t, len(told), 20, "the screens are not flooded")
	share, over := -1.0, false
	for _, e := range told {
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
	require.True(t, over, "the last one says that it is over")
	record, found, err := s.Store.TrackRecord(t.Context(), s.site)
	require.NoError(t, err)
	require.True(t, found)
	require.Equal(t, 56, record.All.Forecast.Days)
}

func TestALearningThatIsStoppedLeavesEverythingAsItWas(t *testing.T) {
	t.Parallel()
	s := learningShop(t)
	looks, ticking := 0, s.Now
	s.Now = func() time.Time {
		if looks++; looks == 40 { // somebody asks
			require.NoError(t, s.Store.StopWork(t.Context(), s.site, models.JobRefit))
		}
		return ticking()
	}
	effect, err := s.refit(t.Context(), s.job())
	require.NoError(t, err, "the job is done: it is not tried again before the next night")
	require.NoError(t, s.Store.Within(t.Context(), effect))
	s.hasLearntNothing()
}

func TestALearningThatIsShutDownIsHandedBackAndDoneAgain(t *testing.T) {
	t.Parallel()
	s := learningShop(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	looks, ticking := 0, s.Now
	s.Now = func() time.Time {
		if looks++; looks == 60 {
			cancel()
		}
		return ticking()
	}
	_, err := s.refit(ctx, s.job())
	require.ErrorIs(t, err, context.Canceled, "the queue takes it back")
	s.hasLearntNothing()
	s.do(s.job())
	state, err := s.Store.ForecastState(t.Context(), s.site)
	require.NoError(t, err)
	require.Equal(t, models.Date("2026-07-08"), state.Through)
}

func (s *shop) hasLearntNothing() {
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
	told := s.events("work")
	require.NotEmpty(s.t, told)
	require.Contains(s.t, string(told[len(told)-1].Data), `"over":true`)
}
