package store

import (
	"context"
	"slices"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"hotday/models"
)

// itemRow is an item of a POS, known once it was counted or mapped.
type itemRow struct {
	ID     int64
	SiteID int64
	Source string
	Item   string
}

func (itemRow) TableName() string { return "sales_items" }

// mappingRow is what an item means from an instant on, the start of the service day Date; "" is the first count. No drink: it is ignored.
type mappingRow struct {
	ItemID   int64 `gorm:"primaryKey"`
	StartsAt int64
	Date     models.Date `gorm:"primaryKey"`
	Drink    *string
	Factor   float64
}

func (mappingRow) TableName() string { return "item_mappings" }

// sameItem makes Create find the ID of an item that is known.
var sameItem = clause.OnConflict{
	Columns:   []clause.Column{{Name: "site_id"}, {Name: "source"}, {Name: "item"}},
	DoUpdates: clause.AssignmentColumns([]string{"item"}),
}

// mappings are the mappings of a site's items, joined with the items.
func (s *Store) mappings(ctx context.Context, site int64) *gorm.DB {
	return s.db.WithContext(ctx).Model(mappingRow{}).Joins("JOIN sales_items ON sales_items.id = item_mappings.item_id").Where("sales_items.site_id = ?", site)
}

// PutMappings maps items to drinks. Counts are joined with the mappings when they are read.
func (s *Store) PutMappings(ctx context.Context, site string, m []models.ItemMapping) error {
	return s.change(ctx, "store item mappings of "+site, site, func(t *Store, r siteRow) error {
		setup, _, err := t.Setup(ctx, site)
		if err != nil {
			return err
		}
		for _, im := range m {
			item := itemRow{SiteID: r.ID, Source: im.Source, Item: im.Item}
			if err := gorm.G[itemRow](t.db, sameItem).Create(ctx, &item); err != nil {
				return err
			}
			m := mappingRow{ItemID: item.ID, Drink: im.Drink, Factor: im.Factor}
			if im.From != nil {
				m.Date, m.StartsAt = *im.From, ms(setup.Site.DayEnd(im.From.AddDays(-1)))
			}
			if err := gorm.G[mappingRow](t.db, replace).Create(ctx, &m); err != nil {
				return err
			}
		}
		return nil
	})
}

// DropMappings deletes an item's mappings, or the one from a day.
func (s *Store) DropMappings(ctx context.Context, site, source, item string, from *models.Date) error {
	return s.change(ctx, "delete item mappings of "+site, site, func(t *Store, r siteRow) error {
		mappings := gorm.G[mappingRow](t.db).Where("item_id = (?)",
			t.db.Model(itemRow{}).Select("id").Where("site_id = ? AND source = ? AND item = ?", r.ID, source, item))
		if from != nil {
			mappings = mappings.Where("date = ?", *from)
		}
		n, err := mappings.Delete(ctx)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no such mapping of item %q of %q", site, item, source)
		}
		return err
	})
}

// Mappings returns the mappings by source, item and date.
func (s *Store) Mappings(ctx context.Context, site string) (out []models.ItemMapping, err error) {
	err = s.atSite(ctx, "read item mappings of "+site, site, func(t *Store, r siteRow) error {
		var list []struct {
			Source, Item string
			Drink        *string
			Factor       float64
			Date         models.Date
		}
		err := t.mappings(ctx, r.ID).Select("source, item, drink, factor, date").Order("source, item, date").Scan(&list).Error
		for _, x := range list {
			m := models.ItemMapping{Source: x.Source, Item: x.Item, Drink: x.Drink, Factor: x.Factor}
			if x.Date != "" {
				m.From = &x.Date
			}
			out = append(out, m)
		}
		return err
	})
	return out, err
}

// mappingSpans are the mappings of a site's items by item ID, latest first.
type mappingSpans map[int64][]mappingRow

func (s *Store) mappingSpans(ctx context.Context, site int64) (mappingSpans, error) {
	var list []mappingRow
	err := s.mappings(ctx, site).Order("starts_at DESC").Find(&list).Error
	out := make(mappingSpans, len(list))
	for _, m := range list {
		out[m.ItemID] = append(out[m.ItemID], m)
	}
	return out, err
}

// at returns what an item is mapped to in a window that starts at an instant: no drink and factor 1 where it is not.
func (m mappingSpans) at(item, start int64) (drink *string, factor float64) {
	spans := m[item]
	i := slices.IndexFunc(spans, func(x mappingRow) bool { return x.StartsAt <= start })
	if i < 0 || spans[i].Drink == nil {
		return nil, 1
	}
	return spans[i].Drink, spans[i].Factor
}

// Unmapped returns the items that have counts but no mapping.
func (s *Store) Unmapped(ctx context.Context, site string) ([]models.UnmappedItem, error) {
	var out []models.UnmappedItem
	err := s.atSite(ctx, "read unmapped items of "+site, site, func(t *Store, r siteRow) error {
		unmapped := func() *gorm.DB {
			return t.db.WithContext(ctx).Model(itemRow{}).Where("sales_items.site_id = ? AND NOT EXISTS (?)", r.ID,
				t.db.Model(mappingRow{}).Select("1").Where("item_id = sales_items.id"))
		}
		// Most shops have none; they are spared the scan of their counts.
		var some []itemRow
		if err := unmapped().Limit(1).Find(&some).Error; err != nil || len(some) == 0 {
			return err
		}
		var list []struct {
			Source, Item        string
			Count               float64
			FirstSeen, LastSeen int64
		}
		err := unmapped().Joins("JOIN sales_counts c ON c.site_id = sales_items.site_id AND c.item_id = sales_items.id").
			Select("source, item, SUM(c.count) AS count, MIN(c.window_start) AS first_seen, MAX(c.window_end) AS last_seen").
			Group("sales_items.id, source, item").Order("source, item").Scan(&list).Error
		for _, u := range list {
			out = append(out, models.UnmappedItem{Source: u.Source, Item: u.Item, Count: u.Count,
				FirstSeen: instant(u.FirstSeen), LastSeen: instant(u.LastSeen)})
		}
		return err
	})
	return out, err
}
