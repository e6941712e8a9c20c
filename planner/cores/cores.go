// Package cores shares the processor's cores between what somebody waits for and background work, so that a night's learning does not
// slow down a till.
package cores

import (
	"container/list"
	"context"
	"sync"
)

// Cores are the cores that long computations may occupy, one each. What people wait for goes before background work, each in the order of
// arrival, but after mostPassing of them it is background work's turn, so that no number of orders keeps a sheet from being published;
// background work leaves one core to requests where there are two or more.
type Cores struct {
	most int // background computations at once

	mu         sync.Mutex
	free       int
	background int // background computations running
	passed     int // computations of people that began while background work could have
	people     list.List
	behind     list.List // background computations waiting
}

// mostPassing is how many computations of people go before one in the background that waits.
const mostPassing = 4

// New returns n cores, at least one.
func New(n int) *Cores {
	n = max(1, n)
	return &Cores{free: n, most: max(1, n-1)}
}

// Background is how many background computations run at once, and how many goroutines one of them should use at most.
func (c *Cores) Background() int { return c.most }

// ForPeople waits for a core for a computation that somebody waits for; release gives it back. The error is that of ctx.
func (c *Cores) ForPeople(ctx context.Context) (release func(), err error) {
	return c.wait(ctx, &c.people)
}

// InBackground waits for a core for background work; release gives it back. The error is that of ctx.
func (c *Cores) InBackground(ctx context.Context) (release func(), err error) {
	return c.wait(ctx, &c.behind)
}

// Waiting is how many computations wait: of people, and in the background.
func (c *Cores) Waiting() (people, background int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.people.Len(), c.behind.Len()
}

func (c *Cores) wait(ctx context.Context, line *list.List) (release func(), err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	c.mu.Lock()
	turn := make(chan struct{})
	place := line.PushBack(turn)
	c.admit()
	c.mu.Unlock()
	release = sync.OnceFunc(func() { c.release(line) })
	select {
	case <-turn:
		return release, nil
	case <-ctx.Done():
	}
	c.mu.Lock()
	select {
	case <-turn: // admitted meanwhile
		c.mu.Unlock()
		release()
	default:
		line.Remove(place)
		c.mu.Unlock()
	}
	return nil, ctx.Err()
}

func (c *Cores) release(line *list.List) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.free++
	if line == &c.behind {
		c.background--
	}
	c.admit()
}

// admit lets those in who may, people first. The caller holds the lock.
func (c *Cores) admit() {
	for c.free > 0 {
		line, waits := &c.people, c.behind.Len() > 0 && c.background < c.most
		switch {
		case waits && (line.Len() == 0 || c.passed >= mostPassing):
			line, c.passed = &c.behind, 0
			c.background++
		case line.Len() == 0:
			return
		case waits:
			c.passed++
		}
		c.free--
		close(line.Remove(line.Front()).(chan struct{}))
	}
}
