package jobs

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner"
	"hotday/planner/cores"
	"hotday/planner/facts"
)

// One shop orders hundreds of plans, replans and checks and posts thousands of counts. Another shop's sheet waits for a few of those plans,
// not for all.
func TestOneShopsStormDoesNotDelayAnothersSheet(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	now := time.Date(2026, 7, 9, 18, 0, 0, 0, time.FixedZone("", 2*3600))
	st, err := store.Open(ctx, filepath.Join(t.TempDir(), "shop.db"), store.WithPoll(10*time.Millisecond), store.WithClock(func() time.Time { return now }))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	story, err := demo.At(now)
	require.NoError(t, err)
	for _, code := range []string{"storm", "calm"} {
		story.Setup.Site.Code = code
		_, _, err := st.PutSetup(ctx, story.Setup, "", now)
		require.NoError(t, err)
	}
	var stormy atomic.Int32
	calm := make(chan int32, 1)
	c := Config{Store: st, Worker: st, Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return now }, Cores: cores.New(1),
		Wait: func(ctx context.Context, _ time.Time) error { <-ctx.Done(); return ctx.Err() },
		Gather: func(_ context.Context, _ models.Store, q facts.GatherQuery) (models.PlanRequest, error) {
			r := models.PlanRequest{Setup: story.Setup, From: q.From, Days: q.Days, Now: q.Now, Demand: []models.Demand{{Date: q.From, Expected: 1}}}
			r.Site.Code = q.Site
			return r, nil
		},
		Compute: func(_ context.Context, r models.PlanRequest, _ planner.Options) (models.Plan, error) {
			if r.Site.Code == "calm" {
				select {
				case calm <- stormy.Load():
				default:
				}
			} else {
				stormy.Add(1)
				time.Sleep(20 * time.Millisecond)
			}
			return models.Plan{ComputedAt: r.Now, From: r.From, Days: r.Days, Digest: fmt.Sprint(r.Site.Code, stormy.Load())}, nil
		},
		PublishAt: "0 0 30 2 *", RefitAt: "0 0 30 2 *", WatchAt: "0 0 30 2 *", TidyAt: "0 0 30 2 *",
	}
	const orders = 300
	for n := range orders {
		args, err := json.Marshal(models.PlanOrder{From: models.Date("2026-07-10").AddDays(n % 3), Days: 1, OrderedAt: now.Add(-time.Duration(orders-n) * time.Second)})
		require.NoError(t, err)
		_, err = st.Enqueue(ctx, models.Job{Kind: models.JobPlan, Site: "storm", Key: fmt.Sprint(n), Args: args})
		require.NoError(t, err)
		_, err = st.Enqueue(ctx, models.Job{Kind: models.JobReplan, Site: "storm"})
		require.NoError(t, err)
	}
	done := make(chan error, 1)
	go func() { done <- Run(ctx, c) }()
	for stormy.Load() < 5 { // the storm is under way
		select {
		case err := <-done:
			t.Fatal("Run returned early", err)
		case <-time.After(time.Millisecond):
		}
	}
	before := stormy.Load()
	_, err = st.Enqueue(ctx, models.Job{Kind: models.JobPublish, Site: "calm", Key: "2026-07-10"})
	require.NoError(t, err)
	posts := make(chan error, 1)
	go func() {
		var failed error
		for n := range 2000 {
			start := now.Add(-time.Duration(n%40+1) * 15 * time.Minute)
			if _, err := st.PutCounts(ctx, "storm", models.SalesPost{Source: "till", Counts: []models.SalesCount{{Item: "a", WindowStart: start, WindowEnd: start.Add(15 * time.Minute), Count: float64(n)}}}, now, "", ""); err != nil {
				failed = err
				break
			}
		}
		posts <- failed
	}()
	var after int32
	select {
	case after = <-calm:
	case err := <-done:
		t.Fatal("Run returned early", err)
	}
	t.Logf("%d plans of the storm began before the sheet's, of %d ordered", after-before, orders)
	require.Less(t, after-before, int32(orders/4), "the sheet waited for the storm")
	for {
		if _, err := st.Sheet(ctx, "calm", "2026-07-10"); err == nil || models.CodeOf(err) != models.CodeNotFound {
			require.NoError(t, err)
			break
		}
		<-time.After(5 * time.Millisecond)
	}
	cancel()
	<-posts
	require.NoError(t, <-done)
}
