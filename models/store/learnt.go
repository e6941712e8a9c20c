package store

import (
	"context"
	"time"

	"github.com/oklog/ulid/v2"
	"gorm.io/gorm"

	"hotday/models"
)

type learntChangeRow struct {
	ID       string
	Site     string
	Subject  string
	Change   models.LearntChange `gorm:"serializer:json"`
	At       int64
	ByName   string
	UndoneAt *int64
	UndoneBy string
}

func (learntChangeRow) TableName() string { return "learnt_changes" }

func (r learntChangeRow) change() models.LearntChange {
	c := r.Change
	c.UndoneAt, c.UndoneBy = instantOrNil(r.UndoneAt), r.UndoneBy
	return c
}

// AddLearntChange stores a change with a new ID.
func (s *Store) AddLearntChange(ctx context.Context, site string, c models.LearntChange) (models.LearntChange, error) {
	c.ID, c.At, c.UndoneAt, c.UndoneBy = ulid.Make().String(), instant(ms(c.At)), nil, ""
	err := s.change(ctx, "store a change of "+site, site, func(t *Store, _ siteRow) error {
		return gorm.G[learntChangeRow](t.db).Create(ctx, &learntChangeRow{ID: c.ID, Site: site, Subject: c.Of, Change: c, At: ms(c.At), ByName: c.By})
	})
	return c, err
}

// LearntChanges returns a site's changes, newest first.
func (s *Store) LearntChanges(ctx context.Context, site string) (out []models.LearntChange, err error) {
	err = s.atSite(ctx, "read the changes of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[learntChangeRow](t.db).Scopes(ofSite(site)).Order("id DESC").Limit(models.MaxLearntChanges).Find(ctx)
		out = append([]models.LearntChange{}, nouns(list, learntChangeRow.change)...)
		return err
	})
	return out, err
}

// UndoLearntChange records who undid a change.
func (s *Store) UndoLearntChange(ctx context.Context, site, id, by string, at time.Time) error {
	return s.change(ctx, "undo a change of "+site, site, func(t *Store, _ siteRow) error {
		r, found, err := one(gorm.G[learntChangeRow](t.db).Scopes(ofSite(site)).Where("id = ?", id).Take(ctx))
		switch {
		case err != nil:
			return err
		case !found:
			return models.Errorf(models.CodeNotFound, "site %q has no change %q", site, id)
		case r.UndoneAt != nil:
			return models.Errorf(models.CodeConflict, "this change is undone already")
		}
		_, err = gorm.G[learntChangeRow](t.db).Where("id = ?", id).Set(columns{"undone_at": ms(at), "undone_by": by}).Update(ctx)
		return err
	})
}
