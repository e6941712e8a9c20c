package store

import (
	"context"
	"encoding/json"
	"time"

	"hotday/models"
)

// AddStockCount stores a count. An identical count with the same time is stored once, since a screen that was offline may send it
// twice.
func (s *Store) AddStockCount(ctx context.Context, site string, c models.StockCount, at time.Time) error {
	return s.change(ctx, "store a stock count of "+site, site, func(t *Store, _ siteRow) error {
		doc, err := json.Marshal(c)
		if err != nil {
			return err
		}
		_, exists, err := row[int64](ctx, t, "SELECT id FROM stock_counts WHERE site = ? AND counted_at = ? AND body = ?", site, ms(c.CountedAt), string(doc))
		if err != nil || exists {
			return err
		}
		_, err = t.exec(ctx, "INSERT INTO stock_counts (site, counted_at, stored_at, body) VALUES (?, ?, ?, ?)", site, ms(c.CountedAt), ms(at), string(doc))
		return err
	})
}

// StockCounts returns counts with from ≤ CountedAt < to, oldest first.
func (s *Store) StockCounts(ctx context.Context, site string, from, to time.Time) ([]models.StockCount, error) {
	return bodies[models.StockCount](ctx, s, "read stock counts of ", site,
		"SELECT body FROM stock_counts WHERE site = ? AND counted_at >= ? AND counted_at < ? ORDER BY counted_at, id", from, to)
}

// DropStockCount deletes one thing from the counts of an instant, and a count of which nothing is left; CodeNotFound if none has it.
func (s *Store) DropStockCount(ctx context.Context, site string, countedAt time.Time, x models.Counted) error {
	return s.change(ctx, "delete from a stock count of "+site, site, func(t *Store, _ siteRow) error {
		stored, err := rows[struct {
			ID   int64
			Body string
		}](ctx, t, "SELECT id, body FROM stock_counts WHERE site = ? AND counted_at = ? ORDER BY id", site, ms(countedAt))
		if err != nil {
			return err
		}
		found := false
		for _, r := range stored {
			var c models.StockCount
			if err := json.Unmarshal([]byte(r.Body), &c); err != nil {
				return err
			}
			rest, had := c.Without(x)
			if !had {
				continue
			}
			found = true
			if rest.Empty() {
				_, err = t.exec(ctx, "DELETE FROM stock_counts WHERE id = ?", r.ID)
			} else {
				var doc []byte
				if doc, err = json.Marshal(rest); err == nil {
					_, err = t.exec(ctx, "UPDATE stock_counts SET body = ? WHERE id = ?", string(doc), r.ID)
				}
			}
			if err != nil {
				return err
			}
		}
		if !found {
			return models.Errorf(models.CodeNotFound, "site %q has no count of that at %s", site, countedAt.Format(time.RFC3339))
		}
		return nil
	})
}

// AddStockChanges stores all changes or none.
func (s *Store) AddStockChanges(ctx context.Context, site string, list []models.StockChange, at time.Time) error {
	return s.change(ctx, "store stock changes of "+site, site, func(t *Store, _ siteRow) error {
		for _, c := range list {
			if err := t.addBody(ctx, "INSERT INTO stock_changes (site, at, stored_at, body) VALUES (?, ?, ?, ?)", site, c.At, at, c); err != nil {
				return err
			}
		}
		return nil
	})
}

// StockChanges returns changes with from ≤ At < to, oldest first.
func (s *Store) StockChanges(ctx context.Context, site string, from, to time.Time) ([]models.StockChange, error) {
	return bodies[models.StockChange](ctx, s, "read stock changes of ", site,
		"SELECT body FROM stock_changes WHERE site = ? AND at >= ? AND at < ? ORDER BY at, id", from, to)
}

func (s *Store) addBody(ctx context.Context, insert, site string, when, at time.Time, body any) error {
	doc, err := json.Marshal(body)
	if err != nil {
		return err
	}
	_, err = s.exec(ctx, insert, site, ms(when), ms(at), string(doc))
	return err
}

func bodies[T any](ctx context.Context, s *Store, action, site, query string, from, to time.Time) ([]T, error) {
	var out []T
	err := s.atSite(ctx, action+site, site, func(t *Store, _ siteRow) error {
		docs, err := rows[string](ctx, t, query, site, ms(from), ms(to))
		if err != nil {
			return err
		}
		out = make([]T, len(docs))
		for i, d := range docs {
			if err := json.Unmarshal([]byte(d), &out[i]); err != nil {
				return err
			}
		}
		return nil
	})
	return out, err
}
