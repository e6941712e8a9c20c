package store

import (
	"context"
	"time"
)

// FindCtx returns the data of a session that has not expired. Like a token's, only the hash of a session's secret is kept.
func (s *Store) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	data, found, err = row[[]byte](ctx, s, "SELECT data FROM sessions WHERE hash = ? AND expires_at > ?", hashOf(token), ms(s.now()))
	return data, found, failed("find a session", err)
}

// CommitCtx stores a session and removes those that have expired.
func (s *Store) CommitCtx(ctx context.Context, token string, data []byte, expiry time.Time) error {
	if data == nil {
		data = []byte{}
	}
	return failed("store a session", s.within(ctx, func(t *Store) error {
		if _, err := t.exec(ctx, "DELETE FROM sessions WHERE expires_at <= ?", ms(s.now())); err != nil {
			return err
		}
		_, err := t.exec(ctx, `INSERT INTO sessions (hash, data, expires_at) VALUES (?, ?, ?)
			ON CONFLICT (hash) DO UPDATE SET data = excluded.data, expires_at = excluded.expires_at`, hashOf(token), data, ms(expiry))
		return err
	}))
}

// DeleteCtx ends a session; one that is not there is no error.
func (s *Store) DeleteCtx(ctx context.Context, token string) error {
	return failed("end a session", s.within(ctx, func(t *Store) error {
		_, err := t.exec(ctx, "DELETE FROM sessions WHERE hash = ?", hashOf(token))
		return err
	}))
}

// Find, Commit and Delete complete the session library's store; it calls the methods with a context where they exist.
func (s *Store) Find(token string) (data []byte, found bool, err error) {
	return s.FindCtx(context.Background(), token)
}

// Commit is CommitCtx without a context.
func (s *Store) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expiry)
}

// Delete is DeleteCtx without a context.
func (s *Store) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }
