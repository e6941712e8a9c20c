package main

import (
	"context"
	"sync/atomic"
	"time"
)

// clock is the shops' time. It stands still until it is set.
type clock struct{ at atomic.Int64 }

func newClock() *clock {
	c := &clock{}
	c.set(firstNight)
	return c
}

func (c *clock) set(t time.Time) { c.at.Store(t.UnixNano()) }

// Now is the shops' time.
func (c *clock) Now() time.Time { return time.Unix(0, c.at.Load()).UTC() }

// never is a cron expression that never fires, and waitForEnd waits as long as anybody waits: jobs are queued here, not by a schedule.
const never = "0 0 30 2 *"

func waitForEnd(ctx context.Context, _ time.Time) error {
	<-ctx.Done()
	return ctx.Err()
}
