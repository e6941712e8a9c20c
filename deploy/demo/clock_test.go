package demo_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/deploy/demo"
)

var halfPastNine = time.Date(2026, 7, 11, 9, 30, 0, 0, time.UTC)

func TestTheClockRunsFasterStopsAndMovesOn(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c := demo.NewClock(halfPastNine, 30, time.Now)
		time.Sleep(time.Minute)
		assert.Equal(t, halfPastNine, c.Now(), "stopped")
		assert.Zero(t, c.Rate())
		c.Start()
		time.Sleep(2 * time.Second)
		assert.Equal(t, halfPastNine.Add(time.Minute), c.Now())
		assert.InDelta(t, 30, c.Rate(), 0)
		c.Stop()
		time.Sleep(time.Hour)
		c.Step(10 * time.Minute)
		assert.Equal(t, halfPastNine.Add(11*time.Minute), c.Now())
		c.Step(-time.Hour)
		assert.Equal(t, halfPastNine.Add(11*time.Minute), c.Now(), "never back")
	})
}

func TestTheClockStopsAtTheEndOfTheDay(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c := demo.NewClock(halfPastNine, 60, time.Now)
		evening := halfPastNine.Add(12 * time.Hour)
		c.StopAt(evening)
		c.Start()
		time.Sleep(time.Hour)
		assert.Equal(t, evening, c.Now())
		assert.Zero(t, c.Rate())
		c.Step(time.Hour)
		assert.Equal(t, evening, c.Now())
		c.Start()
		time.Sleep(time.Second)
		assert.Equal(t, evening.Add(time.Minute), c.Now(), "it goes on when it is asked to")

		d := demo.NewClock(halfPastNine, 60, time.Now)
		d.StopAt(evening)
		d.Step(24 * time.Hour)
		assert.Equal(t, evening, d.Now())
	})
}

func TestWaitingFollowsTheClock(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		c := demo.NewClock(halfPastNine, 60, time.Now)
		began := time.Now()
		done := make(chan time.Duration, 1)
		go func() {
			assert.NoError(t, c.Wait(t.Context(), halfPastNine.Add(10*time.Minute)))
			done <- time.Since(began)
		}()
		time.Sleep(5 * time.Second)
		c.Start() // five minutes of the shop in the next five seconds
		time.Sleep(5 * time.Second)
		c.Stop()
		time.Sleep(time.Hour)
		c.Step(5 * time.Minute)
		require.Equal(t, time.Hour+10*time.Second, <-done)

		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		require.ErrorIs(t, c.Wait(ctx, c.Now().Add(time.Second)), context.Canceled)
		require.NoError(t, c.Wait(ctx, c.Now()))
	})
}
