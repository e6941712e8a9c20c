package store

import (
	"context"
	"crypto/subtle"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

type calendarKeyRow struct {
	Site   string `gorm:"primaryKey"`
	Hash   string
	MadeAt int64
	MadeBy string
	UsedAt *int64
}

func (calendarKeyRow) TableName() string { return "calendar_keys" }

func (s *Store) calendarKey(ctx context.Context, site string) (calendarKeyRow, bool, error) {
	return one(gorm.G[calendarKeyRow](s.db).Scopes(ofSite(site)).Take(ctx))
}

// PutCalendarKey replaces the key of a site; the previous key stops working.
func (s *Store) PutCalendarKey(ctx context.Context, site, by string, at time.Time) (models.CalendarKey, string, error) {
	key := newSecret("")
	err := s.changeAside(ctx, "store a calendar key of "+site, site, func(tx *Store, _ siteRow) error {
		return gorm.G[calendarKeyRow](tx.db, replace).Create(ctx, &calendarKeyRow{Site: site, Hash: hashOf(key), MadeAt: ms(at), MadeBy: by})
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
		_, err := gorm.G[calendarKeyRow](tx.db).Scopes(ofSite(site)).Delete(ctx)
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
		_, err := gorm.G[calendarKeyRow](tx.db).Scopes(ofSite(site)).Update(ctx, "used_at", ms(at))
		return err
	}))
}
