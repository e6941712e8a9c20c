package store

import (
	"context"
	"time"

	"hotday/models"
)

// PutMeasuredBrews stores brews; one of the same coffee and time is replaced.
func (s *Store) PutMeasuredBrews(ctx context.Context, site string, list []models.MeasuredBrew) error {
	return s.change(ctx, "store measured brews of "+site, site, func(t *Store, _ siteRow) error {
		for _, b := range list {
			_, err := t.exec(ctx, `INSERT INTO measured_brews (site, coffee, at, dose_g, brew_water_g, beverage_g, tds_pct, by_name) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
				ON CONFLICT (site, coffee, at) DO UPDATE SET dose_g = excluded.dose_g, brew_water_g = excluded.brew_water_g, beverage_g = excluded.beverage_g,
				tds_pct = excluded.tds_pct, by_name = excluded.by_name`, site, b.Coffee, ms(b.At), b.DoseG, b.BrewWaterG, b.BeverageG, b.TDSPct, b.By)
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// MeasuredBrews returns a coffee's brews, oldest first.
func (s *Store) MeasuredBrews(ctx context.Context, site, coffee string) ([]models.MeasuredBrew, error) {
	var out []models.MeasuredBrew
	err := s.atSite(ctx, "read measured brews of "+site, site, func(t *Store, _ siteRow) error {
		list, err := rows[struct {
			At                                   int64
			DoseG, BrewWaterG, BeverageG, TdsPct float64
			ByName                               string
		}](ctx, t, `SELECT at, dose_g, brew_water_g, beverage_g, tds_pct, by_name FROM
			(SELECT * FROM measured_brews WHERE site = ? AND coffee = ? ORDER BY at DESC LIMIT ?) AS newest ORDER BY at`, site, coffee, models.MaxMeasuredBrews)
		for _, r := range list {
			out = append(out, models.MeasuredBrew{Coffee: coffee, At: instant(r.At), DoseG: r.DoseG, BrewWaterG: r.BrewWaterG, BeverageG: r.BeverageG, TDSPct: r.TdsPct, By: r.ByName})
		}
		return err
	})
	return out, err
}

// DeleteMeasuredBrew deletes one; CodeNotFound if there is none of that coffee and time.
func (s *Store) DeleteMeasuredBrew(ctx context.Context, site, coffee string, at time.Time) error {
	return s.change(ctx, "delete a measured brew of "+site, site, func(t *Store, _ siteRow) error {
		n, err := t.exec(ctx, "DELETE FROM measured_brews WHERE site = ? AND coffee = ? AND at = ?", site, coffee, ms(at))
		if err == nil && n == 0 {
			return models.Errorf(models.CodeNotFound, "site %q has no measured brew of %q at that time", site, coffee)
		}
		return err
	})
}
