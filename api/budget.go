package api

import (
	"container/list"
	"context"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// budget is an amount of something that requests share, such as bytes of memory. A caller has at most a share of it. What is not free
// is waited for, in the order of arrival; a caller with its share in use does not hold up the others behind it.
type budget struct {
	most  int64 // of all callers together
	share int64 // of one caller
	line  int   // reservations of one caller that may wait
	wait  time.Duration
	own   string // error for a caller that has its share in use
	all   string // error for the others, when all of it is in use

	mu      sync.Mutex
	used    int64
	callers map[string]*usage
	waiting list.List // of *reservation
}

// usage is what one caller has of a budget.
type usage struct {
	used    int64
	waiting int
}

type reservation struct {
	caller string
	n      int64
	turn   chan struct{} // closed when it is granted
}

// reserve takes n of the budget for a caller, more than its share counting as the whole share. The error is CodeTooMany if the caller
// has its share in use, CodeBusy if others have all, or that of ctx.
func (b *budget) reserve(ctx context.Context, caller string, n int64) (release func(), err error) {
	b.mu.Lock()
	if b.callers == nil {
		b.callers = map[string]*usage{}
	}
	u := b.callers[caller]
	if u == nil {
		u = &usage{}
		b.callers[caller] = u
	}
	r := &reservation{caller, min(n, b.share), make(chan struct{})}
	place := b.waiting.PushBack(r)
	u.waiting++
	b.grant()
	if u.waiting > b.line && !r.granted() {
		b.giveUp(place)
		b.mu.Unlock()
		return nil, models.Errorf(models.CodeTooMany, "%s", b.own)
	}
	b.mu.Unlock()
	release = sync.OnceFunc(func() { b.release(r) })
	if r.granted() {
		return release, nil
	}
	patience := time.NewTimer(b.wait)
	defer patience.Stop()
	select {
	case <-r.turn:
		return release, nil
	case <-patience.C:
	case <-ctx.Done():
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if r.granted() {
		return release, nil
	}
	err = models.Errorf(models.CodeBusy, "%s", b.all)
	if u.used+r.n > b.share {
		err = models.Errorf(models.CodeTooMany, "%s", b.own)
	}
	b.giveUp(place)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return nil, err
}

func (r *reservation) granted() bool {
	select {
	case <-r.turn:
		return true
	default:
		return false
	}
}

// grant grants the reservations that there is room for. The caller holds the lock.
func (b *budget) grant() {
	for e := b.waiting.Front(); e != nil; {
		r, next := e.Value.(*reservation), e.Next()
		u := b.callers[r.caller]
		if u.used+r.n <= b.share {
			if b.used+r.n > b.most {
				return
			}
			b.waiting.Remove(e)
			b.used += r.n
			u.used += r.n
			u.waiting--
			close(r.turn)
		}
		e = next
	}
}

// giveUp drops a reservation that waits. The caller holds the lock.
func (b *budget) giveUp(place *list.Element) {
	r := b.waiting.Remove(place).(*reservation)
	b.callers[r.caller].waiting--
	b.forget(r.caller)
	b.grant() // it may have held up smaller ones
}

func (b *budget) release(r *reservation) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.used -= r.n
	b.callers[r.caller].used -= r.n
	b.grant()
	b.forget(r.caller)
}

func (b *budget) forget(caller string) {
	if u := b.callers[caller]; u.used == 0 && u.waiting == 0 {
		delete(b.callers, caller)
	}
}

// reserve reserves n of a budget for the request's caller, and sets Retry-After if it cannot.
func (s *Server) reserve(c *gin.Context, b *budget, n int64) (release func(), err error) {
	return s.reserveFor(c, b, s.callerKey(c), n)
}

func (s *Server) reserveFor(c *gin.Context, b *budget, key string, n int64) (release func(), err error) {
	release, err = b.reserve(c.Request.Context(), key, n)
	if err != nil {
		setRetryAfter(c, b.wait)
	}
	return release, err
}

// callerKey is the caller as budgets count it: its token, else its address.
func (s *Server) callerKey(c *gin.Context) string {
	if t, ok := callerToken(c); ok {
		return t.ID
	}
	return "at " + s.limitKey(c)
}
