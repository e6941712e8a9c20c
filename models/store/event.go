package store

import (
	"context"
	"time"

	"hotday/models"
)

// PutEvents stores events, replacing those with the same span and name.
func (s *Store) PutEvents(ctx context.Context, site string, events []models.Event) error {
	return s.change(ctx, "store events of "+site, site, func(t *Store, _ siteRow) error {
		for _, e := range events {
			if e.Kind == models.EventKind {
				e.Kind = ""
			}
			if _, err := t.exec(ctx, `INSERT INTO events (site, from_at, to_at, name, closed, factor, kind) VALUES (?, ?, ?, ?, ?, ?, ?)
				ON CONFLICT (site, from_at, to_at, name) DO UPDATE SET closed = excluded.closed, factor = excluded.factor, kind = excluded.kind`,
				site, ms(e.From), ms(e.To), e.Name, e.Closed, e.Factor, e.Kind); err != nil {
				return err
			}
		}
		return nil
	})
}

// Events returns the events that overlap [from, to), by start.
func (s *Store) Events(ctx context.Context, site string, from, to time.Time) ([]models.Event, error) {
	var out []models.Event
	err := s.atSite(ctx, "read events of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			FromAt, ToAt int64
			Name         string
			Closed       bool
			Factor       float64
			Kind         string
		}](ctx, t, `SELECT from_at, to_at, name, closed, factor, kind FROM events WHERE site = ? AND from_at < ? AND to_at > ?
			ORDER BY from_at, to_at, name`, site, ms(to), ms(from))
		for _, e := range list {
			out = append(out, models.Event{From: instant(e.FromAt), To: instant(e.ToAt), Name: e.Name, Closed: e.Closed, Factor: e.Factor, Kind: e.Kind})
		}
		return err
	})
	return out, err
}

// DropEvent deletes the event with this span and name; CodeNotFound if there is none.
func (s *Store) DropEvent(ctx context.Context, site string, from, to time.Time, name string) error {
	return s.change(ctx, "delete an event of "+site, site, func(t *Store, _ siteRow) error {
		n, err := t.exec(ctx, "DELETE FROM events WHERE site = ? AND from_at = ? AND to_at = ? AND name = ?", site, ms(from), ms(to), name)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no event %q from %s to %s", site, name, from.Format(time.RFC3339), to.Format(time.RFC3339))
		}
		return err
	})
}

// PutOffSale stores spans, replacing those with the same drink and start, which is how an open span is ended.
func (s *Store) PutOffSale(ctx context.Context, site string, list []models.OffSale) error {
	return s.change(ctx, "store off-sale spans of "+site, site, func(t *Store, _ siteRow) error {
		for _, o := range list {
			if _, err := t.exec(ctx, `INSERT INTO off_sale (site, from_at, drink, to_at) VALUES (?, ?, ?, ?)
				ON CONFLICT (site, from_at, drink) DO UPDATE SET to_at = excluded.to_at`, site, ms(o.From), o.Drink, msOrNil(o.To)); err != nil {
				return err
			}
		}
		return nil
	})
}

// OffSale returns the spans that overlap [from, to), by start.
func (s *Store) OffSale(ctx context.Context, site string, from, to time.Time) ([]models.OffSale, error) {
	var out []models.OffSale
	err := s.atSite(ctx, "read off-sale spans of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			Drink  string
			FromAt int64
			ToAt   *int64
		}](ctx, t, `SELECT drink, from_at, to_at FROM off_sale WHERE site = ? AND from_at < ? AND (to_at IS NULL OR to_at > ?)
			ORDER BY from_at, drink`, site, ms(to), ms(from))
		for _, o := range list {
			out = append(out, models.OffSale{Drink: o.Drink, From: instant(o.FromAt), To: instantOrNil(o.ToAt)})
		}
		return err
	})
	return out, err
}

// DropOffSale deletes a drink's span that starts at from; CodeNotFound if there is none.
func (s *Store) DropOffSale(ctx context.Context, site, drink string, from time.Time) error {
	return s.change(ctx, "delete an off-sale span of "+site, site, func(t *Store, _ siteRow) error {
		n, err := t.exec(ctx, "DELETE FROM off_sale WHERE site = ? AND drink = ? AND from_at = ?", site, drink, ms(from))
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no off-sale span of %q from %s", site, drink, from.Format(time.RFC3339))
		}
		return err
	})
}
