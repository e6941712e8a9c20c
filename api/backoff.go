package api

import (
	"sync"
	"time"
)

// backoff delays sign-in for a name after wrong passwords, doubling from 1 s to maxBackoff. It treats unknown names alike, so that it
// does not reveal which exist, and never locks a person out for longer than maxBackoff. It is lost on restart.
type backoff struct {
	now func() time.Time

	mu       sync.Mutex
	failures map[string]failures
}

type failures struct {
	n    int
	last time.Time
}

const (
	freeAttempts = 5 // typing errors
	maxBackoff   = time.Hour
	failureTTL   = 24 * time.Hour
)

// wait returns how long until the next attempt for the name is allowed.
func (b *backoff) wait(name string) time.Duration {
	b.mu.Lock()
	defer b.mu.Unlock()
	g, ok := b.failures[name]
	if !ok || g.n < freeAttempts {
		return 0
	}
	pause := min(maxBackoff, time.Second<<min(g.n-freeAttempts, 20))
	return max(0, g.last.Add(pause).Sub(b.now()))
}

func (b *backoff) recordFailure(name string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.failures == nil {
		b.failures = map[string]failures{}
	}
	now := b.now()
	if len(b.failures) >= maxKeys {
		for k, g := range b.failures {
			if now.Sub(g.last) > failureTTL {
				delete(b.failures, k)
			}
		}
		for k := range b.failures { // still full: an attack on many names; evict any
			if len(b.failures) < maxKeys {
				break
			}
			delete(b.failures, k)
		}
	}
	g := b.failures[name]
	if now.Sub(g.last) > failureTTL {
		g.n = 0
	}
	b.failures[name] = failures{g.n + 1, now}
}

func (b *backoff) reset(name string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.failures, name)
}
