package store_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// TestQueueState is the conformance suite for the state of the queue.
func TestQueueState(t *testing.T) {
	t.Parallel()
	for name, open := range openers {
		for what, test := range map[string]func(t *testing.T, open opener){
			"jobs are counted by what they wait for":        countedByState,
			"jobs that used up their attempts are given up": givenUp,
			"night work may wait":                           nightWaits,
		} {
			t.Run(name+"/"+what, func(t *testing.T) {
				t.Parallel()
				test(t, open)
			})
		}
	}
}

func countedByState(t *testing.T, open opener) {
	s := fastStore(t, open)
	empty, err := s.QueueState(ctx)
	require.NoError(t, err)
	require.Equal(t, models.QueueState{}, empty)

	_, err = s.Enqueue(ctx, models.Job{Kind: "publish", Site: shop, Key: "later", RunAt: time.Now().Add(time.Hour)})
	require.NoError(t, err)
	enqueue(t, s, "publish", "due")
	waiting, err := s.QueueState(ctx)
	require.NoError(t, err)
	require.Equal(t, []int{1, 1, 0}, []int{waiting.Due, waiting.Later, waiting.Running})
	later, err := s.QueueState(ctx)
	require.NoError(t, err)
	require.GreaterOrEqual(t, later.OldestDue, waiting.OldestDue)
	require.Less(t, later.OldestDue, time.Hour, "the times are read as UTC")

	started, resume := make(chan struct{}), make(chan struct{})
	goOn := sync.OnceFunc(func() { close(resume) })
	running(t, s, map[string]models.Work{"publish": func(context.Context, models.Job) (func(models.Store) error, error) {
		close(started)
		<-resume
		return func(tx models.Store) error { return event(tx, "plan") }, nil
	}})
	t.Cleanup(goOn) // runs before the queue is stopped
	receive(t, started)
	busy, err := s.QueueState(ctx)
	require.NoError(t, err)
	require.Equal(t, []int{0, 1, 1}, []int{busy.Due, busy.Later, busy.Running})
	require.Less(t, busy.LongestRunning, time.Hour)
	require.Zero(t, busy.OldestDue)
	goOn()
	waitForEvents(t, s, 1)
	data, log, err := s.FileSizes()
	require.NoError(t, err)
	require.Positive(t, data)
	if strings.Contains(t.Name(), "sqlite") { // a server has one log for all
		require.Positive(t, log)
	}
}

func givenUp(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, "watch", "hopeless")
	tried := make(chan int, 100)
	end := running(t, s, map[string]models.Work{"watch": func(context.Context, models.Job) (func(models.Store) error, error) {
		tried <- 1
		return nil, errors.New("the network is down")
	}})
	for range 25 { // River's attempts
		receive(t, tried)
	}
	end()
	q, err := s.QueueState(ctx)
	require.NoError(t, err)
	require.Equal(t, models.QueueState{GivenUp: 1}, q)
}

func nightWaits(t *testing.T, open opener) {
	s := fastStore(t, open)
	enqueue(t, s, models.JobRefit, "of many")
	time.Sleep(2 * time.Millisecond)
	q, err := s.QueueState(ctx)
	require.NoError(t, err)
	require.Equal(t, models.QueueState{Due: 1}, q, "a long night does not make the queue late")
}
