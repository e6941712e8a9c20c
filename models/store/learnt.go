package store

import (
	"context"
	"encoding/json"
	"time"

	"github.com/oklog/ulid/v2"

	"hotday/models"
)

// AddLearntChange stores a change with a new ID.
func (s *Store) AddLearntChange(ctx context.Context, site string, c models.LearntChange) (models.LearntChange, error) {
	c.ID, c.At, c.UndoneAt, c.UndoneBy = ulid.Make().String(), instant(ms(c.At)), nil, ""
	err := s.change(ctx, "store a change of "+site, site, func(t *Store, _ siteRow) error {
		doc, err := json.Marshal(c)
		if err != nil {
			return err
		}
		_, err = t.exec(ctx, "INSERT INTO learnt_changes (id, site, subject, change, at, by_name) VALUES (?, ?, ?, ?, ?, ?)", c.ID, site, c.Of, string(doc), ms(c.At), c.By)
		return err
	})
	return c, err
}

// LearntChanges returns a site's changes, newest first.
func (s *Store) LearntChanges(ctx context.Context, site string) (out []models.LearntChange, err error) {
	err = s.atSite(ctx, "read the changes of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			Change   string
			UndoneAt *int64
			UndoneBy string
		}](ctx, t, "SELECT change, undone_at, undone_by FROM learnt_changes WHERE site = ? ORDER BY id DESC LIMIT ?", site, models.MaxLearntChanges)
		if err != nil {
			return err
		}
		out = make([]models.LearntChange, len(list))
		for i, r := range list {
			if err := json.Unmarshal([]byte(r.Change), &out[i]); err != nil {
				return err
			}
			if r.UndoneAt != nil {
				out[i].UndoneAt = new(instant(*r.UndoneAt))
			}
			out[i].UndoneBy = r.UndoneBy
		}
		return nil
	})
	return out, err
}

// UndoLearntChange records who undid a change.
func (s *Store) UndoLearntChange(ctx context.Context, site, id, by string, at time.Time) error {
	return s.change(ctx, "undo a change of "+site, site, func(t *Store, _ siteRow) error {
		undone, found, err := row[struct{ UndoneAt *int64 }](ctx, t, "SELECT undone_at FROM learnt_changes WHERE site = ? AND id = ?", site, id)
		switch {
		case err != nil:
			return err
		case !found:
			return models.Errorf(models.CodeNotFound, "site %q has no change %q", site, id)
		case undone.UndoneAt != nil:
			return models.Errorf(models.CodeConflict, "this change is undone already")
		}
		_, err = t.exec(ctx, "UPDATE learnt_changes SET undone_at = ?, undone_by = ? WHERE id = ?", ms(at), by, id)
		return err
	})
}
