package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

type eventRow struct {
	Site   string `gorm:"primaryKey"`
	FromAt int64  `gorm:"primaryKey"`
	ToAt   int64  `gorm:"primaryKey"`
	Name   string `gorm:"primaryKey"`
	Closed bool
	Factor float64
	Kind   string
}

func (eventRow) TableName() string { return "events" }

func (r eventRow) event() models.Event {
	return models.Event{From: instant(r.FromAt), To: instant(r.ToAt), Name: r.Name, Closed: r.Closed, Factor: r.Factor, Kind: r.Kind}
}

// PutEvents stores events, replacing those with the same span and name.
func (s *Store) PutEvents(ctx context.Context, site string, events []models.Event) error {
	return s.change(ctx, "store events of "+site, site, func(t *Store, _ siteRow) error {
		for _, e := range events {
			if e.Kind == models.EventKind {
				e.Kind = ""
			}
			if err := gorm.G[eventRow](t.db, replace).Create(ctx, &eventRow{Site: site, FromAt: ms(e.From), ToAt: ms(e.To), Name: e.Name,
				Closed: e.Closed, Factor: e.Factor, Kind: e.Kind}); err != nil {
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
		list, err := gorm.G[eventRow](t.db).Scopes(ofSite(site), overlapping(from, to)).Order("from_at, to_at, name").Find(ctx)
		out = nouns(list, eventRow.event)
		return err
	})
	return out, err
}

// DropEvent deletes the event with this span and name; CodeNotFound if there is none.
func (s *Store) DropEvent(ctx context.Context, site string, from, to time.Time, name string) error {
	return s.change(ctx, "delete an event of "+site, site, func(t *Store, _ siteRow) error {
		n, err := gorm.G[eventRow](t.db).Scopes(ofSite(site)).Where("from_at = ? AND to_at = ? AND name = ?", ms(from), ms(to), name).Delete(ctx)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no event %q from %s to %s", site, name, from.Format(time.RFC3339), to.Format(time.RFC3339))
		}
		return err
	})
}

// offSaleRow has no end while it holds until further notice.
type offSaleRow struct {
	Site   string `gorm:"primaryKey"`
	FromAt int64  `gorm:"primaryKey"`
	Drink  string `gorm:"primaryKey"`
	ToAt   *int64
}

func (offSaleRow) TableName() string { return "off_sale" }

func (r offSaleRow) offSale() models.OffSale {
	return models.OffSale{Drink: r.Drink, From: instant(r.FromAt), To: instantOrNil(r.ToAt)}
}

// PutOffSale stores spans, replacing those with the same drink and start, which is how an open span is ended.
func (s *Store) PutOffSale(ctx context.Context, site string, list []models.OffSale) error {
	return s.change(ctx, "store off-sale spans of "+site, site, func(t *Store, _ siteRow) error {
		for _, o := range list {
			if err := gorm.G[offSaleRow](t.db, replace).Create(ctx, &offSaleRow{Site: site, FromAt: ms(o.From), Drink: o.Drink, ToAt: msOrNil(o.To)}); err != nil {
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
		list, err := gorm.G[offSaleRow](t.db).Scopes(ofSite(site)).Where("from_at < ? AND (to_at IS NULL OR to_at > ?)", ms(to), ms(from)).
			Order("from_at, drink").Find(ctx)
		out = nouns(list, offSaleRow.offSale)
		return err
	})
	return out, err
}

// DropOffSale deletes a drink's span that starts at from; CodeNotFound if there is none.
func (s *Store) DropOffSale(ctx context.Context, site, drink string, from time.Time) error {
	return s.change(ctx, "delete an off-sale span of "+site, site, func(t *Store, _ siteRow) error {
		n, err := gorm.G[offSaleRow](t.db).Scopes(ofSite(site)).Where("drink = ? AND from_at = ?", drink, ms(from)).Delete(ctx)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no off-sale span of %q from %s", site, drink, from.Format(time.RFC3339))
		}
		return err
	})
}
