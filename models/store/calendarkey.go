package store

import (
	"context"
	"crypto/subtle"
	"time"

	"hotday/models"
)

type calendarKeyRow struct {
	Hash, MadeBy string
	MadeAt       int64
	UsedAt       *int64
}

func (s *Store) calendarKey(ctx context.Context, site string) (calendarKeyRow, bool, error) {
	return row[calendarKeyRow](ctx, s, "SELECT hash, made_at, made_by, used_at FROM calendar_keys WHERE site = ?", site)
}

// PutCalendarKey replaces the key of a site; the previous key stops working.
func (s *Store) PutCalendarKey(ctx context.Context, site, by string, at time.Time) (models.CalendarKey, string, error) {
	key := newSecret("")
	err := s.changeAside(ctx, "store a calendar key of "+site, site, func(tx *Store, _ siteRow) error {
		_, err := tx.exec(ctx, `INSERT INTO calendar_keys (site, hash, made_at, made_by) VALUES (?, ?, ?, ?) ON CONFLICT (site) DO UPDATE
			SET hash = excluded.hash, made_at = excluded.made_at, made_by = excluded.made_by, used_at = NULL`, site, hashOf(key), ms(at), by)
		return err
	})
	if err != nil {
		return models.CalendarKey{}, "", err
	}
	return models.CalendarKey{MadeAt: instant(ms(at)), MadeBy: by}, key, nil
}

// CalendarKey returns the details of a site's key.
func (s *Store) CalendarKey(ctx context.Context, site string) (k models.CalendarKey, err error) {
	err = s.atSite(ctx, "read the calendar key of "+site, site, func(tx *Store, _ siteRow) error {
		r, found, err := tx.calendarKey(ctx, site)
		if err == nil && !found {
			err = models.Errorf(models.CodeNotFound, "site %q has no calendar key", site)
		}
		k = models.CalendarKey{MadeAt: instant(r.MadeAt), MadeBy: r.MadeBy, UsedAt: instantOrNil(r.UsedAt)}
		return err
	})
	if err != nil {
		return models.CalendarKey{}, err
	}
	return k, nil
}

// DeleteCalendarKey revokes the key.
func (s *Store) DeleteCalendarKey(ctx context.Context, site string) error {
	return s.changeAside(ctx, "delete the calendar key of "+site, site, func(tx *Store, _ siteRow) error {
		_, err := tx.exec(ctx, "DELETE FROM calendar_keys WHERE site = ?", site)
		return err
	})
}

// CheckCalendarKey returns the same error for a wrong key, a site without a key and an unknown site.
func (s *Store) CheckCalendarKey(ctx context.Context, site, key string, at time.Time) error {
	r, found, err := s.calendarKey(ctx, site)
	if err != nil {
		return failed("find a calendar key", err)
	}
	if same := subtle.ConstantTimeCompare([]byte(r.Hash), []byte(hashOf(key))); !found || same != 1 {
		return models.Errorf(models.CodeUnauthorised, "this calendar key is not valid: it is mistyped or has been replaced")
	}
	if r.UsedAt != nil && ms(at)-*r.UsedAt < usedAtResolution.Milliseconds() || (s.tx != nil && s.tx.readOnly) {
		return nil
	}
	return failed("record the use of a calendar key", s.within(ctx, func(tx *Store) error {
		_, err := tx.exec(ctx, "UPDATE calendar_keys SET used_at = ? WHERE site = ?", ms(at), site)
		return err
	}))
}
