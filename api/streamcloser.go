package api

import "sync"

// streamCloser ends live streams as soon as the token or session that opened them is revoked. A revocation by another process takes
// effect at the next heartbeat.
type streamCloser struct {
	mu   sync.Mutex
	open map[string]map[chan struct{}]bool // by token or session ID
}

// watch returns a channel that is closed when one of the IDs is revoked. The caller must call done.
func (e *streamCloser) watch(ids ...string) (revoked <-chan struct{}, done func()) {
	c := make(chan struct{})
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.open == nil {
		e.open = map[string]map[chan struct{}]bool{}
	}
	for _, id := range ids {
		if e.open[id] == nil {
			e.open[id] = map[chan struct{}]bool{}
		}
		e.open[id][c] = true
	}
	return c, func() {
		e.mu.Lock()
		defer e.mu.Unlock()
		e.forget(c)
	}
}

func (e *streamCloser) forget(c chan struct{}) {
	for id, list := range e.open {
		if delete(list, c); len(list) == 0 {
			delete(e.open, id)
		}
	}
}

// close closes the channels that watch the ID.
func (e *streamCloser) close(id string) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for c := range e.open[id] {
		close(c)
		e.forget(c)
	}
}
