package store

import (
	"context"

	"gorm.io/gorm"

	"hotday/models"
)

// watchRow is the part of a site's row by which a check for shortages knows whether it has anything to do.
type watchRow struct {
	Changes        int64
	WatchedChanges int64
	WatchAgainAt   int64
}

func (watchRow) TableName() string { return "sites" }

// countChange counts a change of what plans and warnings of a site follow from.
func (s *Store) countChange(ctx context.Context, code string) error {
	return s.db.WithContext(ctx).Model(watchRow{}).Where("code = ?", code).Update("changes", gorm.Expr("changes + 1")).Error
}

// WatchState returns the changes of a site so far, and what its last whole check for shortages saw.
func (s *Store) WatchState(ctx context.Context, site string) (changes int64, last models.Watched, err error) {
	var found []watchRow
	err = s.db.WithContext(ctx).Where("code = ?", site).Limit(1).Find(&found).Error
	switch {
	case err != nil:
		return 0, last, failed("read when "+site+" was checked", err)
	case len(found) == 0:
		return 0, last, siteNotFound(site)
	}
	r := found[0]
	return r.Changes, models.Watched{Changes: r.WatchedChanges, AgainAt: instant(r.WatchAgainAt)}, nil
}

// PutWatched stores what a whole check for shortages saw.
func (s *Store) PutWatched(ctx context.Context, site string, w models.Watched) error {
	return s.changeAside(ctx, "store when "+site+" was checked", site, func(t *Store, r siteRow) error {
		return t.db.WithContext(ctx).Model(watchRow{}).Where("id = ?", r.ID).
			Updates(map[string]any{"watched_changes": w.Changes, "watch_again_at": ms(w.AgainAt)}).Error
	})
}
