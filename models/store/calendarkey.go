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

// PutCalendarKey makes the key of a site anew; the one before opens nothing from then on.
func (s *Store) PutCalendarKey(ctx context.Context, site, by string, at time.Time) (models.CalendarKey, string, error) {
	key := newSecret("")
	err := s.change(ctx, "store a calendar key of "+site, site, func(tx *Store, _ siteRow) error {
		_, err := tx.exec(ctx, `INSERT INTO calendar_keys (site, hash, made_at, made_by) VALUES (?, ?, ?, ?) ON CONFLICT (site) DO UPDATE
			SET hash = excluded.hash, made_at = excluded.made_at, made_by = excluded.made_by, used_at = NULL`, site, hashOf(key), ms(at), by)
		return err
	})
	if err != nil {
		return models.CalendarKey{}, "", err
	}
	return models.CalendarKey{MadeAt: instant(ms(at)), MadeBy: by}, key, nil
}

// CalendarKey says what is known of a site's key.
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

// DeleteCalendarKey takes the key back.
func (s *Store) DeleteCalendarKey(ctx context.Context, site string) error {
	return s.change(ctx, "take the calendar key of "+site+" back", site, func(tx *Store, _ siteRow) error {
		_, err := tx.exec(ctx, "DELETE FROM calendar_keys WHERE site = ?", site)
		return err
	})
}

// CheckCalendarKey answers a wrong key, a site without one and a site that does not exist alike.
func (s *Store) CheckCalendarKey(ctx context.Context, site, key string, at time.Time) error {
	r, found, err := s.calendarKey(ctx, site)
	if err != nil {
		return failed("find a calendar key", err)
	}
	if same := subtle.ConstantTimeCompare([]byte(r.Hash), []byte(hashOf(key))); !found || same != 1 {
		return models.Errorf(models.CodeUnauthorised, "this key does not open the calendar: it is mistyped, or another was made since")
	}
	if r.UsedAt != nil && ms(at)-*r.UsedAt < usedEvery.Milliseconds() || (s.tx != nil && s.tx.readOnly) {
		return nil
	}
	return failed("note the use of a calendar key", s.within(ctx, func(tx *Store) error {
		_, err := tx.exec(ctx, "UPDATE calendar_keys SET used_at = ? WHERE site = ?", ms(at), site)
		return err
	}))
}
