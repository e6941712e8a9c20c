package jobs

import (
	"context"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
)

// TestTwoReplicasPublishOnce runs the jobs twice on one database, with the durable queue and the real planner.
func TestTwoReplicasPublishOnce(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	now := time.Date(2026, 7, 9, 18, 5, 0, 0, time.FixedZone("", 2*3600)) // five minutes after PublishAt
	file := filepath.Join(t.TempDir(), "shop.db")
	story, err := demo.At(now)
	require.NoError(t, err)
	done := make(chan error, 2)
	var first *store.Store
	for n := range 2 {
		st, err := store.Open(ctx, file, store.WithPoll(10*time.Millisecond))
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, st.Close()) })
		if n == 0 {
			first = st
			require.NoError(t, story.Keep(ctx, st, func(string, ...any) {}))
		}
		c := Config{Store: st, Worker: st, Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return now },
			Wait: func(ctx context.Context, _ time.Time) error { <-ctx.Done(); return ctx.Err() },
			Compute: func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error) {
				o.WithoutFixes, o.Days, o.Budget = true, 20, 1
				return planner.ComputeWith(ctx, r, o)
			}}
		go func() { done <- Run(ctx, c) }()
	}
	site := story.Setup.Site.Code
	for {
		changed := first.Changed(site)
		events, err := first.EventsAfter(ctx, site, 0, 100)
		require.NoError(t, err)
		if sheets := ofKind(events, "sheet"); len(sheets) > 0 {
			break
		}
		select {
		case <-changed:
		case err := <-done:
			require.NoError(t, err)
			t.Fatal("Run returned early")
		case <-tick(ctx):
		}
	}
	cancel()
	for range 2 {
		require.NoError(t, <-done)
	}
	events, err := first.EventsAfter(context.WithoutCancel(ctx), site, 0, 100)
	require.NoError(t, err)
	require.Len(t, ofKind(events, "sheet"), 1)
	sheet, err := first.Sheet(context.WithoutCancel(ctx), site, "2026-07-10")
	require.NoError(t, err)
	require.Equal(t, 1, sheet.Revision)
	require.NotEmpty(t, sheet.Tasks)
}

// tick polls for commits by the other replica, since a store signals only its own.
func tick(ctx context.Context) <-chan time.Time {
	t := time.NewTimer(50 * time.Millisecond)
	context.AfterFunc(ctx, func() { t.Stop() })
	return t.C
}

func ofKind(events []models.LiveEvent, kind string) []models.LiveEvent {
	var out []models.LiveEvent
	for _, e := range events {
		if e.Kind == kind {
			out = append(out, e)
		}
	}
	return out
}
