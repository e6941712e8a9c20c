package store

import "time"

// WithRetry sets how long the queue waits before it tries a job again after its attempt-th failure.
func WithRetry(wait func(attempt int) time.Duration) Option {
	return func(s *shared) { s.retry = wait }
}
