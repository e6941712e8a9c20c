package store

import (
	"context"
	"time"

	"hotday/models"
)

// openSession is the condition for a session that is neither over nor unused for too long, with now and idleSince(now) as its arguments.
const openSession = "expires_at > ? AND (seen_at IS NULL OR seen_at > ? OR token IN (SELECT id FROM tokens WHERE kind = 'screen'))"

func idleSince(now int64) int64 { return now - models.SessionIdle.Milliseconds() }

// FindCtx returns the data of a session that is open. Only a hash of a session's secret is stored.
func (s *Store) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	now := ms(s.now())
	r, found, err := row[struct {
		Data   []byte
		SeenAt *int64
	}](ctx, s, "SELECT data, seen_at FROM sessions WHERE hash = ? AND "+openSession, hashOf(token), now, idleSince(now))
	if err == nil && found && r.SeenAt != nil && now-*r.SeenAt >= usedAtResolution.Milliseconds() && s.tx == nil {
		err = s.note(ctx, "UPDATE sessions SET seen_at = ? WHERE hash = ?", now, hashOf(token))
	}
	return r.Data, found, failed("find a session", err)
}

// SessionOpen reports whether a session is open.
func (s *Store) SessionOpen(ctx context.Context, holder, id string) (bool, error) {
	now := ms(s.now())
	_, found, err := row[int](ctx, s, "SELECT 1 FROM sessions WHERE token = ? AND id = ? AND "+openSession, holder, id, now, idleSince(now))
	return found, failed("find a session", err)
}

// NameSession records the holder of a session.
func (s *Store) NameSession(ctx context.Context, token string, n models.Session) error {
	return failed("store the holder of a session", s.within(ctx, func(t *Store) error {
		_, err := t.exec(ctx, "UPDATE sessions SET id = ?, token = ?, created_at = ?, seen_at = ?, browser = ?, address = ? WHERE hash = ?",
			n.ID, n.Token, ms(n.CreatedAt), ms(n.CreatedAt), n.Browser, n.Address, hashOf(token))
		return err
	}))
}

// Sessions returns the sessions of people and access keys; screens have their own list.
func (s *Store) Sessions(ctx context.Context) ([]models.Session, error) {
	list, err := rows[struct {
		ID, Token, Name, Site, SiteGroups, Browser, Address string
		CreatedAt, SeenAt, ExpiresAt                        int64
	}](ctx, s, `SELECT s.id, s.token, t.name, t.site, t.site_groups, s.browser, s.address, s.created_at, s.seen_at, s.expires_at FROM sessions s JOIN tokens t ON t.id = s.token
		WHERE s.expires_at > ? AND s.seen_at > ? AND t.revoked_at IS NULL AND t.kind <> 'screen' ORDER BY s.created_at DESC, s.id DESC`, ms(s.now()), idleSince(ms(s.now())))
	out := make([]models.Session, len(list))
	for i, r := range list {
		site, groups := reach(r.Site, r.SiteGroups)
		out[i] = models.Session{ID: r.ID, Token: r.Token, Name: r.Name, Site: site, Groups: groups, Browser: r.Browser, Address: r.Address, CreatedAt: instant(r.CreatedAt),
			SeenAt: instant(r.SeenAt), ExpiresAt: instant(min(r.ExpiresAt, r.SeenAt+models.SessionIdle.Milliseconds()))}
	}
	return out, failed("list sessions", err)
}

// EndSession ends a session by ID.
func (s *Store) EndSession(ctx context.Context, id string) error {
	return failed("end a session", s.within(ctx, func(t *Store) error {
		n, err := t.exec(ctx, "DELETE FROM sessions WHERE id = ?", id)
		if err == nil && n == 0 {
			err = models.Errorf(models.CodeNotFound, "there is no session %q", id)
		}
		return err
	}))
}

// CommitCtx stores a session and removes expired ones. Those unused for too long are no longer found, and go when they expire.
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

// DeleteCtx ends a session, if it exists.
func (s *Store) DeleteCtx(ctx context.Context, token string) error {
	return failed("end a session", s.within(ctx, func(t *Store) error {
		_, err := t.exec(ctx, "DELETE FROM sessions WHERE hash = ?", hashOf(token))
		return err
	}))
}

// Find is FindCtx without a context. The session library's interface requires Find, Commit and Delete but calls the methods with a
// context if they exist.
func (s *Store) Find(token string) (data []byte, found bool, err error) {
	return s.FindCtx(context.Background(), token)
}

// Commit is CommitCtx without a context.
func (s *Store) Commit(token string, data []byte, expiry time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expiry)
}

// Delete is DeleteCtx without a context.
func (s *Store) Delete(token string) error { return s.DeleteCtx(context.Background(), token) }
