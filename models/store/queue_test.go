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

// TestQueue is the part of the conformance suite that holds for the queue.
func TestQueue(t *testing.T) {
	t.Parallel()
	suite := []struct {
		name string
		test func(t *testing.T, open opener)
	}{
		{"a job is taken once, by kind, site and key", takenOnce},
		{"a job arrives as it was given", arrivesAsGiven},
		{"a job with a time waits for it", waitsForItsTime},
		{"work that fails is tried again and has its effect once", failureIsTriedAgain},
		{"work and effects that panic are tried again", panicIsTriedAgain},
		{"an effect that fails leaves nothing", failedEffectLeavesNothing},
		{"kinds without work wait", unknownKindWaits},
		{"an effect may queue the next job", effectQueuesTheNext},
		{"told to end, it finishes what it holds", finishesWhatItHolds},
		{"work that does not end is handed back", handsBack},
		{"one Run works at a time and the next takes over", oneRunAtATime},
		{"counts are taken while jobs run", countsBesideJobs},
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

// quick looks often and tries again at once.
func quick(t testing.TB, open opener, more ...store.Option) *store.Store {
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

// soon waits for a value, long enough for the slowest machine.
func soon[T any](t testing.TB, c <-chan T) (v T) {
	t.Helper()
	wait, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	select {
	case v = <-c:
	case <-wait.Done():
		t.Fatal("it did not come")
	}
	return v
}

// untilEvents waits until the site has n live events.
func untilEvents(t testing.TB, s *store.Store, n int64) []models.LiveEvent {
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
		soon(t, changed)
	}
}

func event(tx models.Store, kind string) error {
	_, err := tx.AddEvent(ctx, models.LiveEvent{Site: shop, Kind: kind, At: t0})
	return err
}

func takenOnce(t *testing.T, open opener) {
	s := quick(t, open)
	job := models.Job{Kind: "publish", Site: shop, Key: "2026-07-11"}
	var taken atomic.Int32
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() {
			added, err := s.Enqueue(ctx, job)
			if err == nil && added {
				taken.Add(1)
			}
		})
	}
	wg.Wait()
	require.EqualValues(t, 1, taken.Load())
	for _, other := range []models.Job{{Kind: "watch", Site: shop, Key: "2026-07-11"}, {Kind: "publish", Site: "annex", Key: "2026-07-11"}, {Kind: "publish", Site: shop, Key: "2026-07-12"}} {
		added, err := s.Enqueue(ctx, other)
		require.NoError(t, err)
		require.True(t, added, "%+v is another job", other)
	}
	again := job
	again.Args = json.RawMessage(`{"other":true}`)
	added, err := s.Enqueue(ctx, again)
	require.NoError(t, err)
	require.False(t, added, "arguments do not make another job")

	runs := make(chan string, 100)
	work := func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error { runs <- j.Kind + j.Site + j.Key; return event(tx, "plan") }, nil
	}
	running(t, s, map[string]models.Work{"publish": work, "watch": work})
	untilEvents(t, s, 4)
	require.Len(t, runs, 4)
	added, err = s.Enqueue(ctx, job)
	require.NoError(t, err)
	require.False(t, added, "it was done already")
}

func arrivesAsGiven(t *testing.T, open opener) {
	s := quick(t, open)
	want := models.Job{Kind: "replan", Site: shop, Key: "é/✓ 1", Args: json.RawMessage(`{"from":"2026-07-11","n":12345678901234567,"x":0.1,"s":"a\u0000b"}`)}
	added, err := s.Enqueue(ctx, want)
	require.NoError(t, err)
	require.True(t, added)
	enqueue(t, s, "replan", "none")
	got := make(chan models.Job, 2)
	running(t, s, map[string]models.Work{"replan": func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		got <- j
		return nil, nil
	}})
	for range 2 {
		j := soon(t, got)
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

func waitsForItsTime(t *testing.T, open opener) {
	s := quick(t, open)
	now := time.Now()
	for key, at := range map[string]time.Time{"hour": now.Add(time.Hour), "moment": now.Add(300 * time.Millisecond), "past": now.Add(-time.Hour)} {
		added, err := s.Enqueue(ctx, models.Job{Kind: "watch", Site: shop, Key: key, RunAt: at})
		require.NoError(t, err)
		require.True(t, added)
	}
	got := make(chan string, 3)
	running(t, s, map[string]models.Work{"watch": func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		if j.Key == "moment" && time.Now().Before(now.Add(300*time.Millisecond)) {
			return nil, errors.New("too early")
		}
		got <- j.Key
		return nil, nil
	}})
	require.Equal(t, "past", soon(t, got))
	require.Equal(t, "moment", soon(t, got))
	require.Empty(t, got)
}

func failureIsTriedAgain(t *testing.T, open opener) {
	s := quick(t, open)
	enqueue(t, s, "replan", "1")
	var tries atomic.Int32
	end := running(t, s, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
		if tries.Add(1) < 4 {
			return func(tx models.Store) error { return event(tx, "wrong") }, errors.New("the network is down")
		}
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}})
	require.Equal(t, "plan", untilEvents(t, s, 1)[0].Kind)
	end()
	require.EqualValues(t, 4, tries.Load())
}

func panicIsTriedAgain(t *testing.T, open opener) {
	s := quick(t, open)
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
	untilEvents(t, s, 1)
	end()
	require.EqualValues(t, 3, tries.Load())
	untilEvents(t, s, 1)
}

func failedEffectLeavesNothing(t *testing.T, open opener) {
	s := quick(t, open)
	enqueue(t, s, "replan", "1")
	var tries atomic.Int32
	end := running(t, s, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error {
			putCounts(t, tx, post(count(fmt.Sprint("try ", tries.Add(1)), 0, 15, 1)))
			if tries.Load() < 3 {
				return errors.New("not this time")
			}
			return event(tx, "plan")
		}, nil
	}})
	untilEvents(t, s, 1)
	end()
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, 1)
	require.Equal(t, "try 3", got.Rows[0].Item)
}

func unknownKindWaits(t *testing.T, open opener) {
	s := quick(t, open)
	enqueue(t, s, "of tomorrow", "1")
	enqueue(t, s, "replan", "1")
	work := func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}
	end := running(t, s, map[string]models.Work{"replan": work})
	untilEvents(t, s, 1)
	end()
	running(t, s, map[string]models.Work{"replan": work, "of tomorrow": work})
	untilEvents(t, s, 2)
}

func effectQueuesTheNext(t *testing.T, open opener) {
	s := quick(t, open)
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
	untilEvents(t, s, 5)
}

func finishesWhatItHolds(t *testing.T, open opener) {
	s := quick(t, open)
	enqueue(t, s, "replan", "1")
	begun, goOn := make(chan struct{}), make(chan struct{})
	end := running(t, s, map[string]models.Work{"replan": func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		close(begun)
		<-goOn
		return func(tx models.Store) error { return event(tx, "plan") }, ctx.Err()
	}})
	soon(t, begun)
	stopped := make(chan struct{})
	go func() { end(); close(stopped) }()
	close(goOn)
	soon(t, stopped)
	untilEvents(t, s, 1)
}

func handsBack(t *testing.T, open opener) {
	s := quick(t, open, store.WithGrace(20*time.Millisecond))
	enqueue(t, s, "replan", "1")
	begun := make(chan struct{}, 9)
	end := running(t, s, map[string]models.Work{"replan": func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		begun <- struct{}{}
		<-ctx.Done()
		return nil, ctx.Err()
	}})
	soon(t, begun)
	end()
	running(t, s, map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}})
	untilEvents(t, s, 1)
}

func oneRunAtATime(t *testing.T, open opener) {
	s := quick(t, open)
	by := func(name string) map[string]models.Work {
		return map[string]models.Work{"replan": func(context.Context, models.Job) (func(models.Store) error, error) {
			return func(tx models.Store) error { return event(tx, name) }, nil
		}}
	}
	end := running(t, s, by("first"))
	enqueue(t, s, "replan", "1")
	require.Equal(t, "first", untilEvents(t, s, 1)[0].Kind)
	running(t, s, by("second"))
	enqueue(t, s, "replan", "2")
	require.Equal(t, "first", untilEvents(t, s, 2)[1].Kind)
	end()
	enqueue(t, s, "replan", "3")
	require.Equal(t, "second", untilEvents(t, s, 3)[2].Kind)
}

func countsBesideJobs(t *testing.T, open opener) {
	s := quick(t, open)
	const jobs, posts = 60, 60
	var wg sync.WaitGroup
	running(t, s, map[string]models.Work{"watch": func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
		_, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
		return func(tx models.Store) error { return event(tx, "plan") }, err
	}})
	errs := make(chan error, jobs+posts)
	wg.Go(func() {
		for n := range jobs {
			_, err := s.Enqueue(ctx, models.Job{Kind: "watch", Site: shop, Key: fmt.Sprint(n)})
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
	untilEvents(t, s, jobs)
	got, err := s.Counts(ctx, shop, models.SalesFilter{}, models.Page{})
	require.NoError(t, err)
	require.Len(t, got.Rows, posts)
}
