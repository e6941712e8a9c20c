package store

import (
	"context"
	"time"

	"hotday/models"
)

// CountAttempt counts an attempt unless it comes too early. Keys are stored as hashes, since people type passwords where names belong.
func (s *Store) CountAttempt(ctx context.Context, key string, at time.Time) (wait time.Duration, err error) {
	hash, now := hashOf(key), ms(at)
	err = failed("count an attempt", s.within(ctx, func(tx *Store) error {
		if err := tx.hold(ctx, "attempts "+hash); err != nil {
			return err
		}
		if _, err := tx.exec(ctx, "DELETE FROM attempts WHERE last_at < ?", ms(at.Add(-models.AttemptMemory))); err != nil {
			return err
		}
		r, _, err := row[struct {
			N      int
			LastAt int64
		}](ctx, tx, "SELECT n, last_at FROM attempts WHERE hash = ?", hash)
		if err != nil {
			return err
		}
		if gap := models.AttemptGap(r.N); gap > 0 {
			if wait = instant(r.LastAt).Add(gap).Sub(instant(now)); wait > 0 {
				return nil
			}
			wait = 0
		}
		_, err = tx.exec(ctx, `INSERT INTO attempts (hash, n, last_at) VALUES (?, ?, ?) ON CONFLICT (hash) DO UPDATE SET n = excluded.n, last_at = excluded.last_at`,
			hash, r.N+1, now)
		return err
	}))
	return wait, err
}

// UncountAttempt takes back an attempt.
func (s *Store) UncountAttempt(ctx context.Context, key string) error {
	return failed("take back an attempt", s.within(ctx, func(tx *Store) error {
		_, err := tx.exec(ctx, "UPDATE attempts SET n = n - 1 WHERE hash = ? AND n > 0", hashOf(key))
		return err
	}))
}

// ForgetAttempts forgets attempts.
func (s *Store) ForgetAttempts(ctx context.Context, key string) error {
	return failed("forget attempts", s.within(ctx, func(tx *Store) error {
		_, err := tx.exec(ctx, "DELETE FROM attempts WHERE hash = ?", hashOf(key))
		return err
	}))
}
