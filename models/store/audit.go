package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

type auditRow struct {
	ID      int64
	At      int64
	ByName  string
	ByToken string
	Site    string
	Action  string
	Subject string
}

func (auditRow) TableName() string { return "audit" }

func (r auditRow) entry() models.AuditEntry {
	return models.AuditEntry{ID: r.ID, At: instant(r.At), By: r.ByName, ByToken: r.ByToken, Site: r.Site, Action: r.Action, Subject: r.Subject}
}

// AddAudit stores an entry. Call it in the transaction of the change that it records.
func (s *Store) AddAudit(ctx context.Context, e models.AuditEntry) error {
	return failed("store an audit entry", s.within(ctx, func(tx *Store) error {
		return gorm.G[auditRow](tx.db).Create(ctx, &auditRow{At: ms(e.At), ByName: e.By, ByToken: e.ByToken, Site: e.Site, Action: e.Action, Subject: e.Subject})
	}))
}

// AddAuditOnce stores an entry unless the same caller has one since then for the same site, action and subject.
func (s *Store) AddAuditOnce(ctx context.Context, e models.AuditEntry, since time.Time) error {
	return failed("store an audit entry", s.within(ctx, func(tx *Store) error {
		if err := tx.hold(ctx, "audit of "+e.ByToken); err != nil {
			return err
		}
		_, known, err := one(gorm.G[auditRow](tx.db).Where("by_token = ? AND action = ? AND at >= ?", e.ByToken, e.Action, ms(since)).
			Where("site = ? AND subject = ?", e.Site, e.Subject).Take(ctx))
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
	limit := limitOf(p)
	entries := gorm.G[auditRow](s.db).Order("id DESC").Limit(limit + 1)
	if sites != nil {
		entries = entries.Where("site IN ?", sites)
	}
	if hasCursor {
		entries = entries.Where("id < ?", before)
	}
	list, err := entries.Find(ctx)
	if err != nil {
		return out, failed("read the audit", err)
	}
	if len(list) > limit {
		list = list[:limit]
		out.Next = cursorOf("audit", list[limit-1].ID)
	}
	out.Rows = append(out.Rows, nouns(list, auditRow.entry)...)
	return out, nil
}
