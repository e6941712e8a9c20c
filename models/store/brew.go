package store

import (
	"context"
	"slices"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

type measuredBrewRow struct {
	Site       string `gorm:"primaryKey"`
	Coffee     string `gorm:"primaryKey"`
	At         int64  `gorm:"primaryKey"`
	DoseG      float64
	BrewWaterG float64
	BeverageG  float64
	TDSPct     float64 `gorm:"column:tds_pct"`
	ByName     string
}

func (measuredBrewRow) TableName() string { return "measured_brews" }

func (r measuredBrewRow) brew() models.MeasuredBrew {
	return models.MeasuredBrew{Coffee: r.Coffee, At: instant(r.At), DoseG: r.DoseG, BrewWaterG: r.BrewWaterG, BeverageG: r.BeverageG, TDSPct: r.TDSPct, By: r.ByName}
}

// PutMeasuredBrews stores brews; one of the same coffee and time is replaced.
func (s *Store) PutMeasuredBrews(ctx context.Context, site string, list []models.MeasuredBrew) error {
	return s.change(ctx, "store measured brews of "+site, site, func(t *Store, _ siteRow) error {
		for _, b := range list {
			if err := gorm.G[measuredBrewRow](t.db, replace).Create(ctx, &measuredBrewRow{Site: site, Coffee: b.Coffee, At: ms(b.At), DoseG: b.DoseG,
				BrewWaterG: b.BrewWaterG, BeverageG: b.BeverageG, TDSPct: b.TDSPct, ByName: b.By}); err != nil {
				return err
			}
		}
		return nil
	})
}

// MeasuredBrews returns a coffee's latest brews, oldest first.
func (s *Store) MeasuredBrews(ctx context.Context, site, coffee string) ([]models.MeasuredBrew, error) {
	var out []models.MeasuredBrew
	err := s.atSite(ctx, "read measured brews of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[measuredBrewRow](t.db).Scopes(ofSite(site)).Where("coffee = ?", coffee).Order("at DESC").Limit(models.MaxMeasuredBrews).Find(ctx)
		out = nouns(list, measuredBrewRow.brew)
		slices.Reverse(out)
		return err
	})
	return out, err
}

// DeleteMeasuredBrew deletes one; CodeNotFound if there is none of that coffee and time.
func (s *Store) DeleteMeasuredBrew(ctx context.Context, site, coffee string, at time.Time) error {
	return s.change(ctx, "delete a measured brew of "+site, site, func(t *Store, _ siteRow) error {
		n, err := gorm.G[measuredBrewRow](t.db).Scopes(ofSite(site)).Where("coffee = ? AND at = ?", coffee, ms(at)).Delete(ctx)
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no measured brew of %q at that time", site, coffee)
		}
		return err
	})
}
