package store_test

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

// TestQueueLines is the conformance suite for which job goes first, and which share a run.
func TestQueueLines(t *testing.T) {
	t.Parallel()
	for name, open := range openers {
		for what, test := range map[string]func(t *testing.T, open opener){
			"a plan that somebody ordered does not wait for a night of refits": orderedBeforeNight,
			"publishing goes before watching":                                  publishesFirst,
			"learning goes before tidying":                                     learnsFirst,
			"a storm of changes leaves one check and one replan waiting":       stormLeavesOne,
			"a change while a check runs gets one more":                        oneMoreWhileRunning,
			"a change does not wait for the back-off of a failed check":        bringsForward,
			"a check that fails leaves the rest to the one that waits":         leavesToWaiting,
		} {
			t.Run(name+"/"+what, func(t *testing.T) {
				t.Parallel()
				test(t, open)
			})
		}
	}
}

// waiting is how many jobs wait, due or not.
func waiting(t testing.TB, s *store.Store) int {
	t.Helper()
	q, err := s.QueueState(ctx)
	require.NoError(t, err)
	return q.Due + q.Later
}

func orderedBeforeNight(t *testing.T, open opener) {
	s := fastStore(t, open, store.WithWorkers(1))
	for n := range 20 {
		_, err := s.Enqueue(ctx, models.Job{Kind: models.JobRefit, Site: fmt.Sprint("shop-", n), Key: "2026-07-11"})
		require.NoError(t, err)
	}
	learning, planned := make(chan struct{}, 20), make(chan struct{})
	running(t, s, map[string]models.Work{
		models.JobRefit: func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
			learning <- struct{}{}
			select {
			case <-planned: // no refit ends before
			case <-ctx.Done():
			}
			return nil, ctx.Err()
		},
		models.JobPlan: func(context.Context, models.Job) (func(models.Store) error, error) { close(planned); return nil, nil },
	})
	receive(t, learning)
	enqueue(t, s, models.JobPlan, "1")
	receive(t, planned)
}

// inOrder queues jobs while the only worker of their line is busy and returns the order in which they run.
func inOrder(t *testing.T, open opener, kinds ...string) (ran []string) {
	s := fastStore(t, open, store.WithWorkers(1))
	started, proceed, done := make(chan struct{}, 1), make(chan struct{}), make(chan string, len(kinds))
	work := func(ctx context.Context, j models.Job) (func(models.Store) error, error) {
		if j.Key == "busy" {
			started <- struct{}{}
			<-proceed
			return nil, nil
		}
		done <- j.Kind
		return nil, nil
	}
	all := map[string]models.Work{}
	for _, kind := range kinds {
		all[kind] = work
	}
	running(t, s, all)
	enqueue(t, s, kinds[0], "busy")
	receive(t, started)
	for _, kind := range kinds {
		enqueue(t, s, kind, "1")
	}
	close(proceed)
	for range kinds {
		ran = append(ran, receive(t, done))
	}
	return ran
}

func publishesFirst(t *testing.T, open opener) {
	require.Equal(t, []string{models.JobPublish, models.JobWatch}, inOrder(t, open, models.JobWatch, models.JobPublish))
}

func learnsFirst(t *testing.T, open opener) {
	require.Equal(t, []string{models.JobRefit, models.JobTidy}, inOrder(t, open, models.JobTidy, models.JobRefit))
}

func stormLeavesOne(t *testing.T, open opener) {
	s := withShop(t, open, store.WithClock(func() time.Time { return t0 }))
	for n := range 200 {
		at := t0.Add(time.Duration(n) * 10 * time.Second)
		for _, j := range []models.Job{models.WatchJob(shop, at), models.ReplanJob(shop, at), {Kind: models.JobWatch, Site: shop, Key: at.Format(time.RFC3339)}} {
			added, err := s.Enqueue(ctx, j)
			require.NoError(t, err)
			require.Equal(t, n == 0 && j.Key == "", added)
		}
	}
	require.Equal(t, 2, waiting(t, s))
	added, err := s.Enqueue(ctx, models.WatchJob("annex", t0))
	require.NoError(t, err)
	require.True(t, added, "each site has its own")
}

func oneMoreWhileRunning(t *testing.T, open opener) {
	s := fastStore(t, open)
	changes := func() (added int) { // all at the same instant
		require.NoError(t, s.Within(ctx, func(tx models.Store) error {
			for range 3 {
				ok, err := tx.Enqueue(ctx, models.Job{Kind: models.JobWatch, Site: shop})
				if err != nil {
					return err
				}
				if ok {
					added++
				}
			}
			return nil
		}))
		return added
	}
	require.Equal(t, 1, changes())
	started, proceed := make(chan struct{}, 9), make(chan struct{})
	end := running(t, s, map[string]models.Work{models.JobWatch: func(context.Context, models.Job) (func(models.Store) error, error) {
		started <- struct{}{}
		<-proceed
		return func(tx models.Store) error { return event(tx, "warning") }, nil
	}})
	receive(t, started)
	require.Equal(t, 1, changes())
	close(proceed)
	waitForEvents(t, s, 2)
	end()
	require.Zero(t, waiting(t, s))
	waitForEvents(t, s, 2)
}

func bringsForward(t *testing.T, open opener) {
	s := fastStore(t, open, store.WithRetry(func(int) time.Duration { return time.Hour }))
	failed := make(chan struct{}, 1)
	broken := true
	end := running(t, s, map[string]models.Work{models.JobWatch: func(context.Context, models.Job) (func(models.Store) error, error) {
		if broken {
			broken = false
			failed <- struct{}{}
			return nil, errors.New("the disk is slow")
		}
		return func(tx models.Store) error { return event(tx, "warning") }, nil
	}})
	enqueue(t, s, models.JobWatch, "1")
	receive(t, failed)
	for waiting(t, s) == 0 { // until its failure is stored
		time.Sleep(time.Millisecond)
	}
	added, err := s.Enqueue(ctx, models.Job{Kind: models.JobWatch, Site: shop})
	require.NoError(t, err)
	require.False(t, added)
	waitForEvents(t, s, 1)
	end()
	require.Zero(t, waiting(t, s))
}

func leavesToWaiting(t *testing.T, open opener) {
	s := fastStore(t, open)
	started, proceed := make(chan struct{}, 1), make(chan struct{})
	end := running(t, s, map[string]models.Work{models.JobWatch: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
		started <- struct{}{}
		<-proceed
		return nil, errors.New("the disk is slow")
	}})
	enqueue(t, s, models.JobWatch, "1")
	receive(t, started)
	added, err := s.Enqueue(ctx, models.Job{Kind: models.JobWatch, Site: shop, RunAt: time.Now().Add(time.Hour)})
	require.NoError(t, err)
	require.True(t, added)
	close(proceed)
	for {
		q, err := s.QueueState(ctx)
		require.NoError(t, err)
		if q.Running == 0 {
			break
		}
		time.Sleep(time.Millisecond)
	}
	end()
	require.Equal(t, 1, waiting(t, s))
}
