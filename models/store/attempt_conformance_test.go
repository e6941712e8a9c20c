package store_test

import (
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func attempts(t *testing.T, open opener) {
	s := open(t)
	now := t0
	try := func(key string) time.Duration {
		t.Helper()
		wait, err := s.CountAttempt(ctx, key, now)
		require.NoError(t, err)
		return wait
	}
	for range 5 {
		require.Zero(t, try("name ada"))
	}
	require.Equal(t, time.Second, try("name ada"), "the first five are free")
	require.Equal(t, time.Second, try("name ada"), "one that is refused does not count")
	require.Zero(t, try("name ben"))
	now = now.Add(time.Second)
	require.Zero(t, try("name ada"))
	require.Equal(t, 2*time.Second, try("name ada"))
	require.NoError(t, s.UncountAttempt(ctx, "name ada"))
	require.Equal(t, time.Second, try("name ada"))
	for range 30 {
		now = now.Add(models.AttemptGap(30))
		require.Zero(t, try("name ada"))
	}
	require.Equal(t, time.Hour, try("name ada"), "nobody waits longer")
	require.NoError(t, s.ForgetAttempts(ctx, "name ada"))
	require.Zero(t, try("name ada"))
	for range 20 {
		_, err := s.CountAttempt(ctx, "name ada", now)
		require.NoError(t, err)
	}
	now = now.Add(models.AttemptMemory + time.Second)
	for range 5 {
		require.Zero(t, try("name ada"), "a day later it starts again")
	}

	var allowed atomic.Int32
	var wg sync.WaitGroup
	for range 20 {
		wg.Go(func() {
			wait, err := s.CountAttempt(ctx, "name parallel", now)
			if err != nil {
				t.Error(err)
			}
			if wait == 0 {
				allowed.Add(1)
			}
		})
	}
	wg.Wait()
	require.EqualValues(t, 5, allowed.Load(), "parallel guesses count too")
}
