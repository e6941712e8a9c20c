package store

import (
	"context"
	"time"

	"hotday/models"
)

// PutExpectedDemand stores expected demand and logs it. A row whose Expected is nil withdraws it.
func (s *Store) PutExpectedDemand(ctx context.Context, site string, list []models.ExpectedDemand, at time.Time) error {
	return s.change(ctx, "store expected demand of "+site, site, func(t *Store, _ siteRow) error {
		for _, d := range list {
			var err error
			if d.Expected == nil {
				_, err = t.exec(ctx, "DELETE FROM expected_demand WHERE site = ? AND date = ? AND day_part = ? AND drink = ?",
					site, string(d.Date), d.DayPart, d.Drink)
			} else {
				_, err = t.exec(ctx, `INSERT INTO expected_demand (site, date, day_part, drink, expected, p10, p90, note, stored_at)
					VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (site, date, day_part, drink) DO UPDATE SET expected = excluded.expected,
					p10 = excluded.p10, p90 = excluded.p90, note = excluded.note, stored_at = excluded.stored_at`,
					site, string(d.Date), d.DayPart, d.Drink, *d.Expected, d.P10, d.P90, d.Note, ms(at))
			}
			if err != nil {
				return err
			}
			if err := t.logExpectedDemand(ctx, site, d, at); err != nil {
				return err
			}
		}
		return nil
	})
}

// ExpectedDemand returns expected demand for dates from ≤ d < to, by date, day part and drink.
func (s *Store) ExpectedDemand(ctx context.Context, site string, from, to models.Date) (out []models.ExpectedDemand, err error) {
	err = s.atSite(ctx, "read expected demand of "+site, site, func(t *Store, _ siteRow) (err error) {
		out, err = rows[models.ExpectedDemand](ctx, t, `SELECT date, day_part, drink, expected, p10, p90, note FROM expected_demand
			WHERE site = ? AND date >= ? AND date < ? ORDER BY date, day_part, drink`, site, string(from), string(to))
		return err
	})
	return out, err
}
