package store

import (
	"context"
	"encoding/json"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

type stockCountRow struct {
	ID        int64
	Site      string
	CountedAt int64
	StoredAt  int64
	Body      models.StockCount `gorm:"serializer:json"`
}

func (stockCountRow) TableName() string { return "stock_counts" }

func (r stockCountRow) count() models.StockCount { return r.Body }

type stockChangeRow struct {
	ID       int64
	Site     string
	At       int64
	StoredAt int64
	Body     models.StockChange `gorm:"serializer:json"`
}

func (stockChangeRow) TableName() string { return "stock_changes" }

func (r stockChangeRow) change() models.StockChange { return r.Body }

// AddStockCount stores a count. An identical count with the same time is stored once, since a screen that was offline may send it
// twice.
func (s *Store) AddStockCount(ctx context.Context, site string, c models.StockCount, at time.Time) error {
	return s.change(ctx, "store a stock count of "+site, site, func(t *Store, _ siteRow) error {
		doc, err := json.Marshal(c)
		if err != nil {
			return err
		}
		n, err := gorm.G[stockCountRow](t.db).Scopes(ofSite(site)).Where("counted_at = ? AND body = ?", ms(c.CountedAt), string(doc)).Count(ctx, "id")
		if err != nil || n > 0 {
			return err
		}
		return gorm.G[stockCountRow](t.db).Create(ctx, &stockCountRow{Site: site, CountedAt: ms(c.CountedAt), StoredAt: ms(at), Body: c})
	})
}

// StockCounts returns counts with from ≤ CountedAt < to, oldest first.
func (s *Store) StockCounts(ctx context.Context, site string, from, to time.Time) (out []models.StockCount, err error) {
	err = s.atSite(ctx, "read stock counts of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[stockCountRow](t.db).Scopes(ofSite(site)).Where("counted_at >= ? AND counted_at < ?", ms(from), ms(to)).Order("counted_at, id").Find(ctx)
		out = append([]models.StockCount{}, nouns(list, stockCountRow.count)...)
		return err
	})
	return out, err
}

// DropStockCount deletes one thing from the counts of an instant, and a count of which nothing is left; CodeNotFound if none has it.
func (s *Store) DropStockCount(ctx context.Context, site string, countedAt time.Time, x models.Counted) error {
	return s.change(ctx, "delete from a stock count of "+site, site, func(t *Store, _ siteRow) error {
		stored, err := gorm.G[stockCountRow](t.db).Scopes(ofSite(site)).Where("counted_at = ?", ms(countedAt)).Order("id").Find(ctx)
		if err != nil {
			return err
		}
		found := false
		for _, r := range stored {
			rest, had := r.Body.Without(x)
			if !had {
				continue
			}
			found = true
			of := gorm.G[stockCountRow](t.db).Where("id = ?", r.ID)
			if rest.Empty() {
				_, err = of.Delete(ctx)
			} else {
				_, err = of.Select("body").Updates(ctx, stockCountRow{Body: rest})
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
			if err := gorm.G[stockChangeRow](t.db).Create(ctx, &stockChangeRow{Site: site, At: ms(c.At), StoredAt: ms(at), Body: c}); err != nil {
				return err
			}
		}
		return nil
	})
}

// StockChanges returns changes with from ≤ At < to, oldest first.
func (s *Store) StockChanges(ctx context.Context, site string, from, to time.Time) (out []models.StockChange, err error) {
	err = s.atSite(ctx, "read stock changes of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[stockChangeRow](t.db).Scopes(ofSite(site)).Where("at >= ? AND at < ?", ms(from), ms(to)).Order("at, id").Find(ctx)
		out = append([]models.StockChange{}, nouns(list, stockChangeRow.change)...)
		return err
	})
	return out, err
}
