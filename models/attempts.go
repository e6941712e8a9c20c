package models

import (
	"context"
	"time"
)

// AttemptStore counts attempts at passwords for all replicas, and across restarts. A key is a sign-in name, known or not, or a device.
type AttemptStore interface {
	// CountAttempt counts an attempt before it is judged, so that parallel guesses count too. It returns how long until the next one is
	// allowed, and counts nothing, if that is not now.
	CountAttempt(ctx context.Context, key string, at time.Time) (wait time.Duration, err error)
	// UncountAttempt takes back an attempt that was not judged.
	UncountAttempt(ctx context.Context, key string) error
	// ForgetAttempts forgets a key's attempts after the right password.
	ForgetAttempts(ctx context.Context, key string) error
}

const (
	freeAttempts  = 5 // typing errors
	maxAttemptGap = time.Hour
	// AttemptMemory is how long attempts count after the last.
	AttemptMemory = 24 * time.Hour
)

// AttemptGap is how long after n attempts at a password the next is allowed: at once after a few, then 1 s, doubling, at most an hour, so
// that nobody is locked out for longer.
func AttemptGap(n int) time.Duration {
	if n < freeAttempts {
		return 0
	}
	return min(maxAttemptGap, time.Second<<min(n-freeAttempts, 20))
}
