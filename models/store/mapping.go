package store

import (
	"context"

	"hotday/models"
)

// PutMappings maps items to drinks. Counts are joined with the mapping when read, so it applies to past counts too.
func (s *Store) PutMappings(ctx context.Context, site string, m []models.ItemMapping) error {
	return s.change(ctx, "store item mappings of "+site, site, func(t *Store, r siteRow) error {
		for _, im := range m {
			if _, err := t.exec(ctx, `INSERT INTO sales_items (site_id, source, item, drink, factor) VALUES (?, ?, ?, ?, ?)
				ON CONFLICT (site_id, source, item) DO UPDATE SET drink = excluded.drink, factor = excluded.factor`,
				r.ID, im.Source, im.Item, im.Drink, im.Factor); err != nil {
				return err
			}
		}
		return nil
	})
}

// Mappings returns the mappings by source and item.
func (s *Store) Mappings(ctx context.Context, site string) (out []models.ItemMapping, err error) {
	err = s.atSite(ctx, "read item mappings of "+site, site, func(t *Store, r siteRow) (err error) {
		out, err = rows[models.ItemMapping](ctx, t, `SELECT source, item, drink, factor FROM sales_items
			WHERE site_id = ? AND drink IS NOT NULL ORDER BY source, item`, r.ID)
		return err
	})
	return out, err
}

// Unmapped returns the items that have counts but no mapping.
func (s *Store) Unmapped(ctx context.Context, site string) ([]models.UnmappedItem, error) {
	var out []models.UnmappedItem
	err := s.atSite(ctx, "read unmapped items of "+site, site, func(t *Store, r siteRow) error {
		// Most shops have none; they are spared the scan of their counts.
		some, _, err := row[int64](ctx, t, "SELECT id FROM sales_items WHERE site_id = ? AND drink IS NULL LIMIT 1", r.ID)
		if err != nil || some == 0 {
			return err
		}
		list, err := rows[struct {
			Source, Item        string
			Count               float64
			FirstSeen, LastSeen int64
		}](ctx, t, `SELECT i.source, i.item, SUM(c.count) AS count, MIN(c.window_start) AS first_seen, MAX(c.window_end) AS last_seen
			FROM sales_counts c JOIN sales_items i ON i.id = c.item_id
			WHERE c.site_id = ? AND i.drink IS NULL GROUP BY i.id, i.source, i.item ORDER BY i.source, i.item`, r.ID)
		for _, u := range list {
			out = append(out, models.UnmappedItem{Source: u.Source, Item: u.Item, Count: u.Count,
				FirstSeen: instant(u.FirstSeen), LastSeen: instant(u.LastSeen)})
		}
		return err
	})
	return out, err
}
