package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

type weatherHighRow struct {
	Site      string      `gorm:"primaryKey"`
	Date      models.Date `gorm:"primaryKey"`
	SetAt     int64       `gorm:"primaryKey"`
	HighC     float64
	ClearedAt *int64
}

func (weatherHighRow) TableName() string { return "weather_highs" }

func (r weatherHighRow) high() models.WeatherHigh {
	return models.WeatherHigh{Date: r.Date, HighC: r.HighC, SetAt: instant(r.SetAt)}
}

// PutWeatherHigh sets the high that a manager expects on a date from an instant on; nil clears it.
func (s *Store) PutWeatherHigh(ctx context.Context, site string, d models.Date, highC *float64, at time.Time) error {
	return s.change(ctx, "store a high of "+site, site, func(t *Store, _ siteRow) error {
		if _, err := gorm.G[weatherHighRow](t.db).Scopes(ofSite(site)).Where("date = ? AND cleared_at IS NULL", d).Update(ctx, "cleared_at", ms(at)); err != nil || highC == nil {
			return err
		}
		return gorm.G[weatherHighRow](t.db, replace).Create(ctx, &weatherHighRow{Site: site, Date: d, SetAt: ms(at), HighC: *highC})
	})
}

// WeatherHighs returns the highs that hold now, of dates from ≤ d < to, by date.
func (s *Store) WeatherHighs(ctx context.Context, site string, from, to models.Date) (out []models.WeatherHigh, err error) {
	err = s.atSite(ctx, "read highs of "+site, site, func(t *Store, _ siteRow) error {
		list, err := gorm.G[weatherHighRow](t.db).Scopes(ofSite(site), ofDates(from, to)).Where("cleared_at IS NULL").Order("date, set_at").Find(ctx)
		out = nouns(list, weatherHighRow.high)
		return err
	})
	return out, err
}

// highsKnown returns the highs that held at an instant, ms, of the dates that a span may touch in any time zone.
func (s *Store) highsKnown(ctx context.Context, site string, from, to time.Time, known int64) ([]models.WeatherHigh, error) {
	first, after := models.DateOf(from, time.UTC).AddDays(-1), models.DateOf(to, time.UTC).AddDays(2)
	list, err := gorm.G[weatherHighRow](s.db).Scopes(ofSite(site), ofDates(first, after)).
		Where("set_at <= ? AND (cleared_at IS NULL OR cleared_at > ?)", known, known).Order("date, set_at").Find(ctx)
	return nouns(list, weatherHighRow.high), err
}
