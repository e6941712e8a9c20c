package store

import (
	"context"
	"slices"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"

	"hotday/models"
)

type warningRow struct {
	ID       string
	Site     string
	Key      string
	Kind     string
	OpenedAt int64
	SeenAt   int64
	ClosedAt *int64
	AckedAt  *int64
	AckedBy  string
	Revision int
	Warning  models.Warning `gorm:"serializer:json"`
}

func (warningRow) TableName() string { return "warnings" }

func (r warningRow) warning() models.OpenWarning {
	return models.OpenWarning{ID: r.ID, Key: r.Key, OpenedAt: instant(r.OpenedAt), SeenAt: instant(r.SeenAt), ClosedAt: instantOrNil(r.ClosedAt),
		AckedAt: instantOrNil(r.AckedAt), AckedBy: r.AckedBy, Revision: r.Revision, Warning: r.Warning}
}

func warnings(list []warningRow) []models.OpenWarning {
	return append([]models.OpenWarning{}, nouns(list, warningRow.warning)...)
}

func (s *Store) openRows(ctx context.Context, site string) ([]warningRow, error) {
	return gorm.G[warningRow](s.db).Scopes(ofSite(site)).Where("closed_at IS NULL").Order("opened_at, id").Find(ctx)
}

// SyncWarnings opens, updates and closes warnings. Open warnings of other kinds stay as they are.
func (s *Store) SyncWarnings(ctx context.Context, site string, kinds []string, now []models.OpenWarning, at time.Time) (opened []models.OpenWarning, err error) {
	err = s.changeAside(ctx, "store warnings of "+site, site, func(t *Store, _ siteRow) error {
		open, err := t.openRows(ctx, site)
		if err != nil {
			return err
		}
		stale := map[string]warningRow{}
		for _, r := range open {
			stale[r.Key] = r
		}
		for _, w := range now {
			var err error
			if old, ok := stale[w.Key]; ok {
				_, err = gorm.G[warningRow](t.db).Where("id = ?", old.ID).Select("seen_at", "kind", "revision", "warning").
					Updates(ctx, warningRow{SeenAt: ms(at), Kind: w.Kind, Revision: w.Revision, Warning: w.Warning})
				delete(stale, w.Key)
			} else {
				w.ID, w.OpenedAt, w.SeenAt, w.ClosedAt, w.AckedAt, w.AckedBy = ulid.Make().String(), at, at, nil, nil, ""
				opened = append(opened, w)
				err = gorm.G[warningRow](t.db).Create(ctx, &warningRow{ID: w.ID, Site: site, Key: w.Key, Kind: w.Kind, OpenedAt: ms(at), SeenAt: ms(at),
					Revision: w.Revision, Warning: w.Warning})
			}
			if err != nil {
				return err
			}
		}
		for _, r := range open {
			if _, missing := stale[r.Key]; missing && slices.Contains(kinds, r.Kind) {
				if _, err := gorm.G[warningRow](t.db).Where("id = ?", r.ID).Update(ctx, "closed_at", ms(at)); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return opened, nil
}

// OpenWarnings returns the open warnings, oldest first.
func (s *Store) OpenWarnings(ctx context.Context, site string) (out []models.OpenWarning, err error) {
	err = s.atSite(ctx, "read warnings of "+site, site, func(t *Store, _ siteRow) error {
		list, err := t.openRows(ctx, site)
		out = warnings(list)
		return err
	})
	return out, err
}

// AckWarning records who acknowledged a warning; only the first is recorded. CodeNotFound if the site has no such warning.
func (s *Store) AckWarning(ctx context.Context, site, id, by string, at time.Time) (w models.OpenWarning, err error) {
	err = s.change(ctx, "acknowledge a warning", site, func(t *Store, _ siteRow) error {
		own := gorm.G[warningRow](t.db).Scopes(ofSite(site)).Where("id = ?", id)
		if _, err := own.Where("acked_at IS NULL").Set(columns{"acked_at": ms(at), "acked_by": by}).Update(ctx); err != nil {
			return err
		}
		r, found, err := one(own.Take(ctx))
		if err != nil {
			return err
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "site %q has no warning %q", site, id)
		}
		w = r.warning()
		return nil
	})
	return w, err
}

// WarningsOpened returns the warnings with from ≤ OpenedAt < to, including closed ones, oldest first.
func (s *Store) WarningsOpened(ctx context.Context, site string, from, to time.Time) (out []models.OpenWarning, err error) {
	err = s.atSite(ctx, "read past warnings of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[warningRow](t.db).Scopes(ofSite(site)).Where("opened_at >= ? AND opened_at < ?", ms(from), ms(to)).Order("opened_at, id").Find(ctx)
		out = warnings(list)
		return err
	})
	return out, err
}
