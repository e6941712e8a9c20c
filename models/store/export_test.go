package store

import (
	"context"
	"time"
)

// WithRetry sets how long the queue waits before it tries a job again after its attempt-th failure.
func WithRetry(wait func(attempt int) time.Duration) Option {
	return func(s *shared) { s.retry = wait }
}

// WithForget sets how long an attempt that nobody works on counts as running.
func WithForget(after time.Duration) Option { return func(s *shared) { s.forget = after } }

// EmptyLog moves the write-ahead log into the file, whose size then follows from what is stored alone.
func (s *Store) EmptyLog(ctx context.Context) error {
	return s.write.WithContext(ctx).Exec("PRAGMA wal_checkpoint(TRUNCATE)").Error
}
