package store

import (
	"context"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

// sessionRow is a session by the SHA-256 of its token. ID, Token (its holder's) and the rest are nil until NameSession.
type sessionRow struct {
	Hash      string `gorm:"primaryKey"`
	Data      []byte
	ExpiresAt int64
	ID        *string
	Token     *string
	CreatedAt *int64 `gorm:"autoCreateTime:false"`
	SeenAt    *int64
	Browser   *string
	Address   string
}

func (sessionRow) TableName() string { return "sessions" }

// openSession is the condition for a session that is neither over nor unused for too long.
func openSession(s *Store, now int64) func(*gorm.Statement) {
	return func(q *gorm.Statement) {
		q.Where("expires_at > ? AND (seen_at IS NULL OR seen_at > ? OR token IN (?))", now, idleSince(now),
			s.db.Model(tokenRow{}).Select("id").Where("kind = ?", models.TokenScreen))
	}
}

func idleSince(now int64) int64 { return now - models.SessionIdle.Milliseconds() }

// FindCtx returns the data of a session that is open. Only a hash of a session's secret is stored.
func (s *Store) FindCtx(ctx context.Context, token string) (data []byte, found bool, err error) {
	now := ms(s.now())
	r, found, err := one(gorm.G[sessionRow](s.db).Where("hash = ?", hashOf(token)).Scopes(openSession(s, now)).Take(ctx))
	if err == nil && found && r.SeenAt != nil && now-*r.SeenAt >= usedAtResolution.Milliseconds() && s.tx == nil {
		err = s.note(ctx, func(t *Store) error {
			_, err := gorm.G[sessionRow](t.db).Where("hash = ?", r.Hash).Update(ctx, "seen_at", now)
			return err
		})
	}
	return r.Data, found, failed("find a session", err)
}

// SessionOpen reports whether a session is open.
func (s *Store) SessionOpen(ctx context.Context, holder, id string) (bool, error) {
	now := ms(s.now())
	_, found, err := one(gorm.G[sessionRow](s.db).Where("token = ? AND id = ?", holder, id).Scopes(openSession(s, now)).Omit("data").Take(ctx))
	return found, failed("find a session", err)
}

// NameSession records the holder of a session.
func (s *Store) NameSession(ctx context.Context, token string, n models.Session) error {
	return failed("store the holder of a session", s.within(ctx, func(t *Store) error {
		_, err := gorm.G[sessionRow](t.db).Where("hash = ?", hashOf(token)).Set(columns{"id": n.ID, "token": n.Token, "created_at": ms(n.CreatedAt),
			"seen_at": ms(n.CreatedAt), "browser": n.Browser, "address": n.Address}).Update(ctx)
		return err
	}))
}

// Sessions returns the sessions of people and access keys; screens have their own list.
func (s *Store) Sessions(ctx context.Context) ([]models.Session, error) {
	now := ms(s.now())
	var list []struct {
		ID, Token, Name, Site, SiteGroups, Browser, Address string
		CreatedAt, SeenAt, ExpiresAt                        int64
	}
	err := s.db.WithContext(ctx).Model(sessionRow{}).Joins("JOIN tokens ON tokens.id = sessions.token").
		Select("sessions.id, token, name, site, site_groups, browser, address, sessions.created_at, seen_at, expires_at").
		Where("expires_at > ? AND seen_at > ? AND tokens.revoked_at IS NULL AND tokens.kind <> ?", now, idleSince(now), models.TokenScreen).
		Order("sessions.created_at DESC, sessions.id DESC").Scan(&list).Error
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
		n, err := gorm.G[sessionRow](t.db).Where("id = ?", id).Delete(ctx)
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
		if _, err := gorm.G[sessionRow](t.db).Where("expires_at <= ?", ms(s.now())).Delete(ctx); err != nil {
			return err
		}
		keepHolder := clause.OnConflict{Columns: []clause.Column{{Name: "hash"}}, DoUpdates: clause.AssignmentColumns([]string{"data", "expires_at"})}
		return gorm.G[sessionRow](t.db, keepHolder).Create(ctx, &sessionRow{Hash: hashOf(token), Data: data, ExpiresAt: ms(expiry)})
	}))
}

// DeleteCtx ends a session, if it exists.
func (s *Store) DeleteCtx(ctx context.Context, token string) error {
	return failed("end a session", s.within(ctx, func(t *Store) error {
		_, err := gorm.G[sessionRow](t.db).Where("hash = ?", hashOf(token)).Delete(ctx)
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
