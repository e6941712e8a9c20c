package store_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

// TestQueue is the conformance suite for the queue.
func TestQueue(t *testing.T) {
	t.Parallel()
	suite := []struct {
		name string
		test func(t *testing.T, open opener)
	}{
		{"a job is unique by kind, site and key", uniqueJobs},
		{"a job's arguments are preserved", preservesArguments},
		{"a job waits for its RunAt", waitsForRunAt},
		{"failed work is retried and takes effect once", retriesFailures},
		{"panics in work and effects are retried", retriesPanics},
		{"a failed effect is rolled back", rollsBackFailedEffect},
		{"a job of an unknown kind waits", unknownKindWaits},
		{"an effect can enqueue a job", effectEnqueues},
		{"running jobs finish on shutdown", finishesOnShutdown},
		{"work that does not end in time is released", releasesOnShutdown},
		{"another Run takes over", takesOverRun},
		{"counts are stored while jobs run", countsWhileJobsRun},
	}
	for name, open := range openers {
		for _, c := range suite {
			t.Run(name+"/"+c.name, func(t *testing.T) {
				t.Parallel()
				c.test(t, open)
			})
		}
	}
}

// fastStore polls often and retries at once.
func fastStore(t testing.TB, open opener, more ...store.Option) *store.Store {
	return withShop(t, open, append([]store.Option{store.WithPoll(5 * time.Millisecond),
		store.WithRetry(func(int) time.Duration { return time.Millisecond })}, more...)...)
}

// running runs the queue until end is called.
func running(t testing.TB, s *store.Store, work map[string]models.Work) (end func()) {
	run, cancel := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- s.Run(run, work) }()
	var once sync.Once
	end = func() {
		once.Do(func() {
			cancel()
			require.NoError(t, <-ended)
		})
	}
	t.Cleanup(end)
	return end
}

func enqueue(t testing.TB, s models.Queue, kind, key string) {
	t.Helper()
	added, err := s.Enqueue(ctx, models.Job{Kind: kind, Site: shop, Key: key})
	require.NoError(t, err)
	require.True(t, added)
}

// receive waits for a value, long enough for the slowest machine.
func receive[T any](t testing.TB, c <-chan T) (v T) {
	t.Helper()
	wait, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	select {
	case v = <-c:
	case <-wait.Done():
		t.Fatal("timed out")
	}
	return v
}

// waitForEvents waits until the site has n live events.
func waitForEvents(t testing.TB, s *store.Store, n int64) []models.LiveEvent {
	t.Helper()
	for {
		changed := s.Changed(shop)
		last, err := s.LastEventID(ctx, shop)
		require.NoError(t, err)
		if last >= n {
			list, err := s.EventsAfter(ctx, shop, 0, models.MaxLimit)
			require.NoError(t, err)
			require.Len(t, list, int(n))
			return list
		}
		receive(t, changed)
	}
}

func event(tx models.Store, kind string) error {
	_, err := tx.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: kind, At: t0})
	return err
}

func uniqueJobs(t *testing.T, open opener) {
	s := fastStore(t, open)
	job := models.Job{Kind: "publish", Site: shop, Key: "2026-07-11"}
	var accepted atomic.Int32
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() {
			added, err := s.Enqueue(ctx, job)
			if err == nil && added {
				accepted.Add(1)
			}
		})
	}
	wg.Wait()
	require.EqualValues(t, 1, accepted.Load())
	for _, other := range []models.Job{{Kind: "watch", Site: shop, Key: "2026-07-11"}, {Kind: "publish", Site: "annex", Key: "2026-07-11"}, {Kind: "publish", Site: shop, Key: "2026-07-12"}} {
		added, err := s.Enqueue(ctx, other)
		require.NoError(t, err)
		require.True(t, added, "%+v is a different job", other)
	}
	again := job
	again.Args = json.RawMessage(`{"other":true}`)
	added, err := s.Enqueue(ctx, again)
	require.NoError(t, err)
	require.False(t, added, "arguments do not make it a different job")

	runs := make(chan string, 100)
	work := func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error { runs <- j.Kind + j.Site + j.Key; return event(tx, "plan") }, nil
	}
	running(t, s, map[string]models.Work{"publish": work, "watch": work})
	waitForEvents(t, s, 4)
	require.Len(t, runs, 4)
	added, err = s.Enqueue(ctx, job)
	require.NoError(t, err)
	require.False(t, added, "it is already done")
}

func preservesArguments(t *testing.T, open opener) {
	s := fastStore(t, open)
	want := models.Job{Kind: "publish", Site: shop, Key: "é/✓ 1", Args: json.RawMessage(`{"from":"2026-07-11","n":12345678901234567,"x":0.1,"s":"a\u0000b"}`)}
	added, err := s.Enqueue(ctx, want)
	require.NoError(t, err)
	require.True(t, added)
	enqueue(t, s, "publish", "none")
	got := make(chan models.Job, 2)
	running(t, s, map[string]models.Work{"publish": func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		got <- j
		return nil, nil
	}})
	for range 2 {
		j := receive(t, got)
		if j.Key == "none" {
			require.Empty(t, j.Args)
			continue
		}
		require.JSONEq(t, string(want.Args), string(j.Args))
		require.Contains(t, string(j.Args), "12345678901234567")
		j.Args = want.Args
		require.Equal(t, want, j)
	}
}

func waitsForRunAt(t *testing.T, open opener) {
	s := fastStore(t, open)
	now := time.Now()
	for key, at := range map[string]time.Time{"hour": now.Add(time.Hour), "moment": now.Add(300 * time.Millisecond), "past": now.Add(-time.Hour)} {
		added, err := s.Enqueue(ctx, models.Job{Kind: "publish", Site: shop, Key: key, RunAt: at})
		require.NoError(t, err)
		require.True(t, added)
	}
	got := make(chan string, 3)
	running(t, s, map[string]models.Work{"publish": func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		if j.Key == "moment" && time.Now().Before(now.Add(300*time.Millisecond)) {
			return nil, errors.New("too early")
		}
		got <- j.Key
		return nil, nil
	}})
	require.Equal(t, "past", receive(t, got))
	require.Equal(t, "moment", receive(t, got))
	require.Empty(t, got)
}

func retriesFailures(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, "replan", "1")
	var tries atomic.Int32
	end := running(t, s, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
		if tries.Add(1) < 4 {
			return func(tx models.Store) error { return event(tx, "wrong") }, errors.New("the network is down")
		}
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}})
	require.Equal(t, "plan", waitForEvents(t, s, 1)[0].Kind)
	end()
	require.EqualValues(t, 4, tries.Load())
}

func retriesPanics(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, "replan", "1")
	var tries atomic.Int32
	end := running(t, s, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
		n := tries.Add(1)
		if n == 1 {
			panic("in the work")
		}
		return func(tx models.Store) error {
			if err := event(tx, "plan"); err != nil || n > 2 {
				return err
			}
			panic("in the effect")
		}, nil
	}})
	waitForEvents(t, s, 1)
	end()
	require.EqualValues(t, 3, tries.Load())
	waitForEvents(t, s, 1)
}

func rollsBackFailedEffect(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, "replan", "1")
	var tries atomic.Int32
	end := running(t, s, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error {
			putCounts(t, tx, post(count(fmt.Sprint("attempt ", tries.Add(1)), 0, 15, 1)))
			if tries.Load() < 3 {
				return errors.New("failed")
			}
			return event(tx, "plan")
		}, nil
	}})
	waitForEvents(t, s, 1)
	end()
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	require.Equal(t, "attempt 3", got.Rows[0].Item)
}

func unknownKindWaits(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, "unknown", "1")
	enqueue(t, s, "replan", "1")
	work := func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}
	end := running(t, s, map[string]models.Work{"replan": work})
	waitForEvents(t, s, 1)
	end()
	running(t, s, map[string]models.Work{"replan": work, "unknown": work})
	waitForEvents(t, s, 2)
}

func effectEnqueues(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, "chain", "0")
	running(t, s, map[string]models.Work{"chain": func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error {
			if len(j.Key) < 5 {
				if added, err := tx.Enqueue(ctx, models.Job{Kind: "chain", Site: shop, Key: j.Key + "0"}); err != nil || !added {
					return fmt.Errorf("added %v: %w", added, err)
				}
			}
			return event(tx, "plan")
		}, nil
	}})
	waitForEvents(t, s, 5)
}

func finishesOnShutdown(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, "replan", "1")
	started, proceed := make(chan struct{}), make(chan struct{})
	end := running(t, s, map[string]models.Work{"replan": func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		close(started)
		<-proceed
		return func(tx models.Store) error { return event(tx, "plan") }, ctx.Err()
	}})
	receive(t, started)
	stopped := make(chan struct{})
	go func() { end(); close(stopped) }()
	close(proceed)
	receive(t, stopped)
	waitForEvents(t, s, 1)
}

func releasesOnShutdown(t *testing.T, open opener) {
	s := fastStore(t, open, store.WithGrace(20*time.Millisecond))
	enqueue(t, s, "replan", "1")
	started := make(chan struct{}, 9)
	end := running(t, s, map[string]models.Work{"replan": func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		started <- struct{}{}
		<-ctx.Done()
		return nil, ctx.Err()
	}})
	receive(t, started)
	end()
	running(t, s, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}})
	waitForEvents(t, s, 1)
}

func oneActiveRun(t *testing.T, open opener) {
	s := fastStore(t, open)
	by := func(name string) map[string]models.Work {
		return map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
			return func(tx models.Store) error { return event(tx, name) }, nil
		}}
	}
	end := running(t, s, by("first"))
	enqueue(t, s, "replan", "1")
	require.Equal(t, "first", waitForEvents(t, s, 1)[0].Kind)
	running(t, s, by("second"))
	enqueue(t, s, "replan", "2")
	require.Equal(t, "first", waitForEvents(t, s, 2)[1].Kind)
	end()
	enqueue(t, s, "replan", "3")
	require.Equal(t, "second", waitForEvents(t, s, 3)[2].Kind)
}

func TestOnlyOneRunIsActiveOnAFile(t *testing.T) {
	t.Parallel()
	oneActiveRun(t, openSQLite)
}

func takesOverRun(t *testing.T, open opener) {
	s := fastStore(t, open)
	work := map[string]models.Work{"replan": adds("plan")}
	end := running(t, s, work)
	enqueue(t, s, "replan", "1")
	waitForEvents(t, s, 1)
	running(t, s, work)
	end()
	enqueue(t, s, "replan", "2")
	waitForEvents(t, s, 2)
}

func countsWhileJobsRun(t *testing.T, open opener) {
	s := fastStore(t, open)
	const jobs, posts = 60, 60
	var wg sync.WaitGroup
	running(t, s, map[string]models.Work{"publish": func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		_, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
		return func(tx models.Store) error { return event(tx, "plan") }, err
	}})
	errs := make(chan error, jobs+posts)
	wg.Go(func() {
		for n := range jobs {
			_, err := s.Enqueue(ctx, models.Job{Kind: "publish", Site: shop, Key: fmt.Sprint(n)})
			errs <- err
		}
	})
	wg.Go(func() {
		for n := range posts {
			_, err := s.PutCounts(ctx, shop, post(count("flash", 15*n, 15*n+15, 1)), t0, "", "")
			errs <- err
		}
	})
	wg.Wait()
	close(errs)
	for err := range errs {
		require.NoError(t, err)
	}
	waitForEvents(t, s, jobs)
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, posts)
}
