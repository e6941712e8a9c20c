package store

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"github.com/oklog/ulid/v2"

	"hotday/models"
)

type warningRow struct {
	ID, Key, Kind     string
	OpenedAt, SeenAt  int64
	ClosedAt, AckedAt *int64
	AckedBy           string
	Revision          int
	Warning           string
}

const warningColumns = "id, key, kind, opened_at, seen_at, closed_at, acked_at, acked_by, revision, warning"

func (r warningRow) warning() (models.OpenWarning, error) {
	w := models.OpenWarning{ID: r.ID, Key: r.Key, OpenedAt: instant(r.OpenedAt), SeenAt: instant(r.SeenAt), ClosedAt: instantOrNil(r.ClosedAt),
		AckedAt: instantOrNil(r.AckedAt), AckedBy: r.AckedBy, Revision: r.Revision}
	return w, json.Unmarshal([]byte(r.Warning), &w.Warning)
}

func warnings(list []warningRow) ([]models.OpenWarning, error) {
	out := make([]models.OpenWarning, len(list))
	for i, r := range list {
		var err error
		if out[i], err = r.warning(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (s *Store) openRows(ctx context.Context, site string) ([]warningRow, error) {
	return rows[warningRow](ctx, s, "SELECT "+warningColumns+" FROM warnings WHERE site = ? AND closed_at IS NULL ORDER BY opened_at, id", site)
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
			doc, err := json.Marshal(w.Warning)
			if err != nil {
				return err
			}
			if old, ok := stale[w.Key]; ok {
				_, err = t.exec(ctx, "UPDATE warnings SET seen_at = ?, kind = ?, revision = ?, warning = ? WHERE id = ?",
					ms(at), w.Kind, w.Revision, string(doc), old.ID)
				delete(stale, w.Key)
			} else {
				w.ID, w.OpenedAt, w.SeenAt, w.ClosedAt, w.AckedAt, w.AckedBy = ulid.Make().String(), at, at, nil, nil, ""
				opened = append(opened, w)
				_, err = t.exec(ctx, `INSERT INTO warnings (id, site, key, kind, opened_at, seen_at, revision, warning)
					VALUES (?, ?, ?, ?, ?, ?, ?, ?) `, w.ID, site, w.Key, w.Kind, ms(at), ms(at), w.Revision, string(doc))
			}
			if err != nil {
				return err
			}
		}
		for _, r := range open {
			if _, missing := stale[r.Key]; missing && slices.Contains(kinds, r.Kind) {
				if _, err := t.exec(ctx, "UPDATE warnings SET closed_at = ? WHERE id = ?", ms(at), r.ID); err != nil {
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
		if err != nil {
			return err
		}
		out, err = warnings(list)
		return err
	})
	return out, err
}

// AckWarning records who acknowledged a warning; only the first is recorded. CodeNotFound if the site has no such warning.
func (s *Store) AckWarning(ctx context.Context, site, id, by string, at time.Time) (w models.OpenWarning, err error) {
	err = s.change(ctx, "acknowledge a warning", site, func(t *Store, _ siteRow) error {
		if _, err := t.exec(ctx, "UPDATE warnings SET acked_at = ?, acked_by = ? WHERE id = ? AND site = ? AND acked_at IS NULL",
			ms(at), by, id, site); err != nil {
			return err
		}
		r, found, err := row[warningRow](ctx, t, "SELECT "+warningColumns+" FROM warnings WHERE id = ? AND site = ?", id, site)
		if err != nil {
			return err
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "site %q has no warning %q", site, id)
		}
		w, err = r.warning()
		return err
	})
	return w, err
}

// WarningsOpened returns the warnings with from ≤ OpenedAt < to, including closed ones, oldest first.
func (s *Store) WarningsOpened(ctx context.Context, site string, from, to time.Time) (out []models.OpenWarning, err error) {
	err = s.atSite(ctx, "read past warnings of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[warningRow](ctx, t, "SELECT "+warningColumns+` FROM warnings WHERE site = ? AND opened_at >= ? AND opened_at < ?
			ORDER BY opened_at, id`, site, ms(from), ms(to))
		if err != nil {
			return err
		}
		out, err = warnings(list)
		return err
	})
	return out, err
}
