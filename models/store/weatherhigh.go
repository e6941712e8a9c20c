package store

import (
	"context"
	"time"

	"hotday/models"
)

// PutWeatherHigh sets the high that a manager expects on a date from an instant on; nil clears it.
func (s *Store) PutWeatherHigh(ctx context.Context, site string, d models.Date, highC *float64, at time.Time) error {
	return s.change(ctx, "store a high of "+site, site, func(t *Store, _ siteRow) error {
		if _, err := t.exec(ctx, "UPDATE weather_highs SET cleared_at = ? WHERE site = ? AND date = ? AND cleared_at IS NULL", ms(at), site, string(d)); err != nil || highC == nil {
			return err
		}
		_, err := t.exec(ctx, `INSERT INTO weather_highs (site, date, set_at, high_c) VALUES (?, ?, ?, ?)
			ON CONFLICT (site, date, set_at) DO UPDATE SET high_c = excluded.high_c, cleared_at = NULL`, site, string(d), ms(at), *highC)
		return err
	})
}

// WeatherHighs returns the highs that hold now, of dates from ≤ d < to, by date.
func (s *Store) WeatherHighs(ctx context.Context, site string, from, to models.Date) (out []models.WeatherHigh, err error) {
	err = s.atSite(ctx, "read highs of "+site, site, func(t *Store, _ siteRow) error {
		out, err = t.highs(ctx, "site = ? AND date >= ? AND date < ? AND cleared_at IS NULL", site, string(from), string(to))
		return err
	})
	return out, err
}

// highsKnown returns the highs that held at an instant, ms, of the dates that a span may touch in any time zone.
func (s *Store) highsKnown(ctx context.Context, site string, from, to time.Time, known int64) ([]models.WeatherHigh, error) {
	first, last := models.DateOf(from, time.UTC).AddDays(-1), models.DateOf(to, time.UTC).AddDays(1)
	return s.highs(ctx, "site = ? AND date >= ? AND date <= ? AND set_at <= ? AND (cleared_at IS NULL OR cleared_at > ?)",
		site, string(first), string(last), known, known)
}

func (s *Store) highs(ctx context.Context, where string, args ...any) (out []models.WeatherHigh, err error) {
	list, err := rows[struct {
		Date  string
		HighC float64
		SetAt int64
	}](ctx, s, "SELECT date, high_c, set_at FROM weather_highs WHERE "+where+" ORDER BY date, set_at", args...)
	for _, r := range list {
		out = append(out, models.WeatherHigh{Date: models.Date(r.Date), HighC: r.HighC, SetAt: instant(r.SetAt)})
	}
	return out, err
}
