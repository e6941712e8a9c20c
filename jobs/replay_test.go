package jobs

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func (s *shop) replayJob(days int, from models.Date) models.Job {
	args, err := json.Marshal(models.ReplayOrder{From: from, Days: days})
	require.NoError(s.t, err)
	return models.Job{Kind: models.JobReplay, Site: s.site, Key: "now", Args: args}
}

func TestReplayIsStored(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	s.do(s.replayJob(1, "2026-07-07"))
	r, err := s.Store.PastReplay(t.Context(), s.site)
	require.NoError(t, err)
	require.Equal(t, models.Date("2026-07-07"), r.From)
	require.Equal(t, models.Date("2026-07-07"), r.To)
	require.Equal(t, 1, r.Open)
	require.Positive(t, r.Demand)
	require.Contains(t, r.SVG, "<svg")
	require.GreaterOrEqual(t, len(r.Methods), 3)
	var names []string
	for _, m := range r.Curve {
		names = append(names, m.Name)
		require.LessOrEqual(t, m.Missed, r.Demand, m.Name)
	}
	for _, want := range []string{"plan", "plan at 80%", "par sheet", "par sheet × 1.2", "perfect foresight"} {
		require.Contains(t, names, want)
	}
	for _, m := range r.Methods {
		require.Contains(t, names, m.Name)
	}
	require.Contains(t, r.CurveSVG, "<svg")
	require.Empty(t, r.Savings, "one day proves nothing")
	events := s.events("work")
	require.NotEmpty(t, events)
	require.Contains(t, string(events[len(events)-1].Data), `"over":true`, "the pages reload")
}

func TestAReplayOutOfTimeBeforeThreeDaysKeepsThePreviousOne(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	s.replayTimeout = time.Nanosecond
	require.NoError(t, s.Store.PutPastReplay(t.Context(), s.site, models.Replay{From: "2026-01-01", To: "2026-01-02"}))
	s.do(s.replayJob(14, "2026-06-20"))
	r, err := s.Store.PastReplay(t.Context(), s.site)
	require.NoError(t, err)
	require.Equal(t, models.Date("2026-01-01"), r.From)
}

func TestStoppedReplayKeepsThePreviousOne(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	require.NoError(t, s.Store.PutPastReplay(t.Context(), s.site, models.Replay{From: "2026-01-01", To: "2026-01-02"}))
	ticking, calls := s.Now, 0
	s.Now = func() time.Time {
		if calls++; calls == 4 { // the first day is done
			require.NoError(t, s.Store.StopWork(t.Context(), s.site, models.JobReplay))
		}
		return ticking()
	}
	s.do(s.replayJob(14, "2026-06-20"))
	r, err := s.Store.PastReplay(t.Context(), s.site)
	require.NoError(t, err)
	require.Equal(t, models.Date("2026-01-01"), r.From)
	now, err := s.Store.Progress(t.Context(), s.site)
	require.NoError(t, err)
	require.Empty(t, now)
}

func TestReplayOfUnknownDaysIsReported(t *testing.T) {
	t.Parallel()
	s := seasonShop(t)
	s.do(s.replayJob(1, "2031-01-01"))
	_, err := s.Store.PastReplay(t.Context(), s.site)
	require.Equal(t, models.CodeNotFound, models.CodeOf(err))
	require.Len(t, s.events("plan"), 1, "an error that no retry can fix is reported")
}
