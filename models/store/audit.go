package store

import (
	"context"
	"time"

	"hotday/models"
)

// AddAudit stores an entry. Call it in the transaction of the change that it records.
func (s *Store) AddAudit(ctx context.Context, e models.AuditEntry) error {
	return failed("store an audit entry", s.within(ctx, func(tx *Store) error {
		_, err := tx.exec(ctx, "INSERT INTO audit (at, by_name, by_token, site, action, subject) VALUES (?, ?, ?, ?, ?, ?)",
			ms(e.At), e.By, e.ByToken, e.Site, e.Action, e.Subject)
		return err
	}))
}

// AddAuditOnce stores an entry unless the same caller has one since then for the same site, action and subject.
func (s *Store) AddAuditOnce(ctx context.Context, e models.AuditEntry, since time.Time) error {
	return failed("store an audit entry", s.within(ctx, func(tx *Store) error {
		if err := tx.hold(ctx, "audit of "+e.ByToken); err != nil {
			return err
		}
		_, known, err := row[int64](ctx, tx, "SELECT id FROM audit WHERE by_token = ? AND action = ? AND at >= ? AND site = ? AND subject = ? LIMIT 1",
			e.ByToken, e.Action, ms(since), e.Site, e.Subject)
		if err != nil || known {
			return err
		}
		return tx.AddAudit(ctx, e)
	}))
}

// Audit returns a page of entries, newest first.
func (s *Store) Audit(ctx context.Context, sites []string, p models.Page) (models.Rows[models.AuditEntry], error) {
	out := models.Rows[models.AuditEntry]{Rows: []models.AuditEntry{}}
	var before int64
	hasCursor, err := readCursor(p.Cursor, "audit", &before)
	if err != nil {
		return out, err
	}
	where, args := "WHERE 1 = 1", []any{}
	if sites != nil {
		where, args = "WHERE site IN ?", []any{sites}
	}
	if hasCursor {
		where, args = where+" AND id < ?", append(args, before)
	}
	limit := limitOf(p)
	list, err := rows[struct {
		ID, At                                 int64
		ByName, ByToken, Site, Action, Subject string
	}](ctx, s, "SELECT id, at, by_name, by_token, site, action, subject FROM audit "+where+" ORDER BY id DESC LIMIT ?", append(args, limit+1)...)
	if err != nil {
		return out, failed("read the audit", err)
	}
	for i, e := range list {
		if i == limit {
			out.Next = cursorOf("audit", list[i-1].ID)
			break
		}
		out.Rows = append(out.Rows, models.AuditEntry{ID: e.ID, At: instant(e.At), By: e.ByName, ByToken: e.ByToken, Site: e.Site, Action: e.Action, Subject: e.Subject})
	}
	return out, nil
}
