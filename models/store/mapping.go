package store

import (
	"context"
	"slices"

	"hotday/models"
)

// PutMappings maps items to drinks. Counts are joined with the mappings when they are read.
func (s *Store) PutMappings(ctx context.Context, site string, m []models.ItemMapping) error {
	return s.change(ctx, "store item mappings of "+site, site, func(t *Store, r siteRow) error {
		setup, _, err := t.Setup(ctx, site)
		if err != nil {
			return err
		}
		for _, im := range m {
			id, _, err := row[int64](ctx, t, `INSERT INTO sales_items (site_id, source, item) VALUES (?, ?, ?)
				ON CONFLICT (site_id, source, item) DO UPDATE SET item = excluded.item RETURNING id`, r.ID, im.Source, im.Item)
			if err != nil {
				return err
			}
			date, starts := models.Date(""), int64(0)
			if im.From != nil {
				date, starts = *im.From, ms(setup.Site.DayEnd(im.From.AddDays(-1)))
			}
			if _, err := t.exec(ctx, `INSERT INTO item_mappings (item_id, starts_at, date, drink, factor) VALUES (?, ?, ?, ?, ?)
				ON CONFLICT (item_id, date) DO UPDATE SET starts_at = excluded.starts_at, drink = excluded.drink, factor = excluded.factor`,
				id, starts, date, im.Drink, im.Factor); err != nil {
				return err
			}
		}
		return nil
	})
}

// DropMappings deletes an item's mappings, or the one from a day.
func (s *Store) DropMappings(ctx context.Context, site, source, item string, from *models.Date) error {
	return s.change(ctx, "delete item mappings of "+site, site, func(t *Store, r siteRow) error {
		query := "DELETE FROM item_mappings WHERE item_id = (SELECT id FROM sales_items WHERE site_id = ? AND source = ? AND item = ?)"
		args := []any{r.ID, source, item}
		if from != nil {
			query, args = query+" AND date = ?", append(args, *from)
		}
		n, err := t.exec(ctx, query, args...)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no such mapping of item %q of %q", site, item, source)
		}
		return err
	})
}

// Mappings returns the mappings by source, item and date.
func (s *Store) Mappings(ctx context.Context, site string) (out []models.ItemMapping, err error) {
	err = s.atSite(ctx, "read item mappings of "+site, site, func(t *Store, r siteRow) error {
		list, err := rows[struct {
			Source, Item string
			Drink        *string
			Factor       float64
			Date         models.Date
		}](ctx, t, `SELECT i.source, i.item, m.drink, m.factor, m.date FROM sales_items i JOIN item_mappings m ON m.item_id = i.id
			WHERE i.site_id = ? ORDER BY i.source, i.item, m.date`, r.ID)
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
type mappingSpans map[int64][]mappedFrom

type mappedFrom struct {
	ItemID, StartsAt int64
	Drink            *string
	Factor           float64
}

func (s *Store) mappingSpans(ctx context.Context, site int64) (mappingSpans, error) {
	list, err := rows[mappedFrom](ctx, s, `SELECT m.item_id, m.starts_at, m.drink, m.factor FROM sales_items i JOIN item_mappings m ON m.item_id = i.id
		WHERE i.site_id = ? ORDER BY m.starts_at DESC`, site)
	out := make(mappingSpans, len(list))
	for _, m := range list {
		out[m.ItemID] = append(out[m.ItemID], m)
	}
	return out, err
}

// at returns what an item is mapped to in a window that starts at an instant: no drink and factor 1 where it is not.
func (m mappingSpans) at(item, start int64) (drink *string, factor float64) {
	spans := m[item]
	i := slices.IndexFunc(spans, func(x mappedFrom) bool { return x.StartsAt <= start })
	if i < 0 || spans[i].Drink == nil {
		return nil, 1
	}
	return spans[i].Drink, spans[i].Factor
}

// Unmapped returns the items that have counts but no mapping.
func (s *Store) Unmapped(ctx context.Context, site string) ([]models.UnmappedItem, error) {
	var out []models.UnmappedItem
	err := s.atSite(ctx, "read unmapped items of "+site, site, func(t *Store, r siteRow) error {
		// Most shops have none; they are spared the scan of their counts.
		some, _, err := row[int64](ctx, t, `SELECT id FROM sales_items i WHERE site_id = ?
			AND NOT EXISTS (SELECT 1 FROM item_mappings m WHERE m.item_id = i.id) LIMIT 1`, r.ID)
		if err != nil || some == 0 {
			return err
		}
		list, err := rows[struct {
			Source, Item        string
			Count               float64
			FirstSeen, LastSeen int64
		}](ctx, t, `SELECT i.source, i.item, SUM(c.count) AS count, MIN(c.window_start) AS first_seen, MAX(c.window_end) AS last_seen
			FROM sales_counts c JOIN sales_items i ON i.id = c.item_id
			WHERE c.site_id = ? AND NOT EXISTS (SELECT 1 FROM item_mappings m WHERE m.item_id = i.id)
			GROUP BY i.id, i.source, i.item ORDER BY i.source, i.item`, r.ID)
		for _, u := range list {
			out = append(out, models.UnmappedItem{Source: u.Source, Item: u.Item, Count: u.Count,
				FirstSeen: instant(u.FirstSeen), LastSeen: instant(u.LastSeen)})
		}
		return err
	})
	return out, err
}
