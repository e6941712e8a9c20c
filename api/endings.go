package api

import "sync"

// endings tells open live streams that the right they were opened with is over, so that a revoked screen goes dark at once and
// not at the next heartbeat. Rights revoked by another process end with the heartbeat.
type endings struct {
	mu   sync.Mutex
	open map[string]map[chan struct{}]bool // by the id of the token or session
}

// watch returns a channel that is closed when one of the ids ends; done forgets it.
func (e *endings) watch(ids ...string) (ended <-chan struct{}, done func()) {
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

func (e *endings) forget(c chan struct{}) {
	for id, list := range e.open {
		if delete(list, c); len(list) == 0 {
			delete(e.open, id)
		}
	}
}

// end closes what watches the id.
func (e *endings) end(id string) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for c := range e.open[id] {
		close(c)
		e.forget(c)
	}
}
