package api

import (
	"sync"
	"time"
)

// backoff delays sign-in for a name after wrong passwords, doubling from 1 s to maxBackoff. It treats unknown names alike, so that it
// does not reveal which exist, and never locks a person out for longer than maxBackoff. Devices that have signed in before are counted by
// themselves, so that strangers cannot lock them out. It is lost on restart.
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

// reserve counts an attempt for the name before it is judged, so that parallel guesses count too. It returns how long until the next
// one is allowed, and counts nothing, if that is not now.
func (b *backoff) reserve(name string) (wait time.Duration) {
	b.mu.Lock()
	defer b.mu.Unlock()
	now := b.now()
	g, ok := b.failures[name]
	if now.Sub(g.last) > failureTTL {
		g.n = 0
	}
	if g.n >= freeAttempts {
		pause := min(maxBackoff, time.Second<<min(g.n-freeAttempts, 20))
		if wait = g.last.Add(pause).Sub(now); wait > 0 {
			return wait
		}
	}
	if !ok {
		b.makeRoom(now)
	}
	b.failures[name] = failures{g.n + 1, now}
	return 0
}

func (b *backoff) makeRoom(now time.Time) {
	if b.failures == nil {
		b.failures = map[string]failures{}
	}
	if len(b.failures) < maxKeys {
		return
	}
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

// giveBack uncounts an attempt that was not judged.
func (b *backoff) giveBack(name string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if g, ok := b.failures[name]; ok {
		b.failures[name] = failures{max(0, g.n-1), g.last}
	}
}

func (b *backoff) reset(name string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.failures, name)
}
