package api

import (
	"fmt"
	"math"
	"sync"
	"time"

	"github.com/gin-gonic/gin"
	"golang.org/x/time/rate"

	"hotday/models"
)

// limiter has one token bucket per key.
type limiter struct {
	per   rate.Limit
	burst int
	now   func() time.Time

	mu      sync.Mutex
	buckets map[string]*bucket
}

type bucket struct {
	*rate.Limiter
	used time.Time
}

func newLimiter(perSecond float64, burst int, now func() time.Time) *limiter {
	return &limiter{per: rate.Limit(perSecond), burst: burst, now: now, buckets: map[string]*bucket{}}
}

// maxKeys bounds the memory of a limiter: beyond it, full buckets are evicted.
const maxKeys = 10_000

// take takes one token from the bucket of key. If there is none, it returns how long to wait, else 0.
func (l *limiter) take(key string) (wait time.Duration) {
	now := l.now()
	r := l.bucket(key, now).ReserveN(now, 1)
	if wait = r.DelayFrom(now); wait > 0 {
		r.CancelAt(now)
	}
	return wait
}

// giveBack returns a token to the bucket of key.
func (l *limiter) giveBack(key string) {
	now := l.now()
	l.bucket(key, now).ReserveN(now, -1) // a full bucket stays full
}

// wait returns how long until the bucket of key has a token, without taking it.
func (l *limiter) wait(key string) (wait time.Duration) {
	now := l.now()
	missing := 1 - l.bucket(key, now).TokensAt(now)
	return max(0, time.Duration(missing/float64(l.per)*float64(time.Second)))
}

func (l *limiter) bucket(key string, now time.Time) *bucket {
	l.mu.Lock()
	defer l.mu.Unlock()
	b, ok := l.buckets[key]
	if !ok {
		if len(l.buckets) >= maxKeys {
			l.evict(now)
		}
		b = &bucket{Limiter: rate.NewLimiter(l.per, l.burst)}
		l.buckets[key] = b
	}
	b.used = now
	return b
}

func (l *limiter) evict(now time.Time) {
	full := time.Duration(float64(l.burst)/float64(l.per)*float64(time.Second)) + time.Second
	for key, b := range l.buckets {
		if now.Sub(b.used) > full {
			delete(l.buckets, key)
		}
	}
}

// left returns how many tokens the bucket of key has, and how long until it is full.
func (l *limiter) left(key string) (tokens int, full time.Duration) {
	now := l.now()
	have := max(0, l.bucket(key, now).TokensAt(now))
	return int(have), time.Duration((float64(l.burst) - have) / float64(l.per) * float64(time.Second))
}

// tellLimit sets the header fields RateLimit-Policy and RateLimit (draft-ietf-httpapi-ratelimit-headers-10) for a caller's rate of
// requests: the burst and the seconds in which it comes back; how many requests are left, and the seconds until all are again, or until
// there is one. The budgets have no such window: they answer with Retry-After alone.
func (s *Server) tellLimit(c *gin.Context, key string, wait time.Duration) {
	left, full := s.limits.left(key)
	if wait > 0 {
		left, full = 0, wait
	}
	window := max(1, int(math.Round(float64(s.limits.burst)/float64(s.limits.per))))
	c.Header("RateLimit-Policy", fmt.Sprintf(`"requests";q=%d;w=%d`, s.limits.burst, window))
	c.Header("RateLimit", fmt.Sprintf(`"requests";r=%d;t=%d`, left, int(math.Ceil(full.Seconds()))))
}

// tooManyRequests returns a CodeTooMany error and sets Retry-After.
func tooManyRequests(c *gin.Context, wait time.Duration) error {
	return models.Errorf(models.CodeTooMany, "too many requests; try again in %d s", setRetryAfter(c, wait))
}
