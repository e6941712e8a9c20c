package api

import (
	"math"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"hotday/models"
)

// limiter holds one token bucket a key.
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

// keysKept bounds the memory of a limiter: beyond it, buckets that are full again are forgotten.
const keysKept = 10_000

// take takes one request from the bucket of key; wait is how long to wait where there is none, else 0.
func (l *limiter) take(key string) (wait time.Duration) {
	now := l.now()
	r := l.bucket(key, now).ReserveN(now, 1)
	if wait = r.DelayFrom(now); wait > 0 {
		r.CancelAt(now)
	}
	return wait
}

// left returns how long to wait until the bucket of key has one, without taking it.
func (l *limiter) left(key string) (wait time.Duration) {
	now := l.now()
	missing := 1 - l.bucket(key, now).TokensAt(now)
	return max(0, time.Duration(missing/float64(l.per)*float64(time.Second)))
}

func (l *limiter) bucket(key string, now time.Time) *bucket {
	l.mu.Lock()
	defer l.mu.Unlock()
	b, ok := l.buckets[key]
	if !ok {
		if len(l.buckets) >= keysKept {
			l.forget(now)
		}
		b = &bucket{Limiter: rate.NewLimiter(l.per, l.burst)}
		l.buckets[key] = b
	}
	b.used = now
	return b
}

func (l *limiter) forget(now time.Time) {
	full := time.Duration(float64(l.burst)/float64(l.per)*float64(time.Second)) + time.Second
	for key, b := range l.buckets {
		if now.Sub(b.used) > full {
			delete(l.buckets, key)
		}
	}
}

// tooMany is the refusal; its wait goes into Retry-After in whole seconds.
func tooMany(wait time.Duration) (retryAfter int, err error) {
	secs := int(math.Ceil(wait.Seconds()))
	return max(1, secs), models.Errorf(models.CodeTooMany, "too many requests; try again in %d s", max(1, secs))
}
