package demo

import (
	"context"
	"sync"
	"time"
)

// Clock is the time in the demo's shop. It runs at a multiple of real time, can be stopped and moved on, and stops by itself at the end of
// the day. It never runs back. Its methods may be called concurrently.
type Clock struct {
	real    func() time.Time
	mu      sync.Mutex
	at      time.Time // in the shop at the real time since
	since   time.Time
	speed   float64 // while it runs
	running bool
	stopAt  time.Time     // where it stops by itself; zero: nowhere
	changed chan struct{} // closed when it is set, started or stopped
}

// NewClock returns a stopped clock at the given time in the shop. speed is the shop's seconds in a real one, above 0.
func NewClock(at time.Time, speed float64, real func() time.Time) *Clock {
	return &Clock{real: real, at: at, since: real(), speed: speed, changed: make(chan struct{})}
}

// Now is the time in the shop.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now()
}

func (c *Clock) now() time.Time {
	if !c.running {
		return c.at
	}
	t := c.at.Add(time.Duration(float64(c.real().Sub(c.since)) * c.speed))
	if c.stops(t) {
		return c.stopAt
	}
	return t
}

// stops reports whether a clock that would show t has stopped by itself.
func (c *Clock) stops(t time.Time) bool { return !c.stopAt.IsZero() && !t.Before(c.stopAt) }

// Rate is the shop's seconds in a real one at present, 0 where the clock is stopped.
func (c *Clock) Rate() float64 {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.running || c.stops(c.now()) {
		return 0
	}
	return c.speed
}

// Over reports whether the clock has stopped by itself.
func (c *Clock) Over() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.stops(c.now())
}

// StopAt sets the time at which the clock stops by itself.
func (c *Clock) StopAt(t time.Time) { c.change(func() { c.stopAt = t }) }

// Stop stops the clock.
func (c *Clock) Stop() { c.change(func() { c.running = false }) }

// Start lets a stopped clock run on. Where it has stopped by itself, it no longer does.
func (c *Clock) Start() {
	c.change(func() {
		if c.stops(c.at) {
			c.stopAt = time.Time{}
		}
		c.running = true
	})
}

// Step moves the clock on, no further than to where it stops by itself.
func (c *Clock) Step(by time.Duration) {
	c.change(func() {
		c.at = c.at.Add(max(0, by))
		if c.stops(c.at) {
			c.at, c.running = c.stopAt, false
		}
	})
}

func (c *Clock) change(how func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at, c.since = c.now(), c.real()
	how()
	close(c.changed)
	c.changed = make(chan struct{})
}

// Wait returns once the clock shows t or later, or with the error of ctx.
func (c *Clock) Wait(ctx context.Context, t time.Time) error {
	for {
		c.mu.Lock()
		left, running, changed := t.Sub(c.now()), c.running, c.changed
		if running && !c.stopAt.IsZero() && t.After(c.stopAt) {
			running = false
		}
		wait := time.Duration(float64(left) / c.speed)
		c.mu.Unlock()
		if left <= 0 {
			return nil
		}
		var passed <-chan time.Time
		if running {
			passed = time.After(wait)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-changed:
		case <-passed:
		}
	}
}
