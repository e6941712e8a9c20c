package store

import (
	"context"
	"time"

	"gorm.io/gorm"

	"hotday/models"
)

// weatherValues are the columns of an hour besides its key.
type weatherValues struct {
	TempC       float64
	HumidityPct *float64
	RainMM      *float64 `gorm:"column:rain_mm"`
}

// observedRow is an hour as it was, forecastRow one as it was forecast: every issue is kept.
type (
	observedRow struct {
		Site     string `gorm:"primaryKey"`
		At       int64  `gorm:"primaryKey"`
		IssuedAt int64
		Values   weatherValues `gorm:"embedded"`
	}
	forecastRow struct {
		Site     string        `gorm:"primaryKey"`
		At       int64         `gorm:"primaryKey"`
		IssuedAt int64         `gorm:"primaryKey"`
		Values   weatherValues `gorm:"embedded"`
	}
)

func (observedRow) TableName() string { return "weather_observed" }
func (forecastRow) TableName() string { return "weather_forecast" }

// PutWeather stores hours. An observed hour replaces the stored one; a forecast hour replaces only that of the same issue.
func (s *Store) PutWeather(ctx context.Context, site string, w models.WeatherPost) error {
	return s.change(ctx, "store weather of "+site, site, func(t *Store, _ siteRow) error {
		for _, h := range w.Hours {
			values := weatherValues{h.TempC, h.HumidityPct, h.RainMM}
			var err error
			if w.Kind == models.WeatherForecast {
				err = gorm.G[forecastRow](t.db, replace).Create(ctx, &forecastRow{site, ms(h.At), ms(w.IssuedAt), values})
			} else {
				err = gorm.G[observedRow](t.db, replace).Create(ctx, &observedRow{site, ms(h.At), ms(w.IssuedAt), values})
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// Weather returns the weather as known at an instant, with the highs that held then: later observations, forecasts and highs are
// ignored. A zero known means now.
func (s *Store) Weather(ctx context.Context, site string, from, to, known time.Time) ([]models.WeatherRow, error) {
	var out []models.WeatherRow
	err := s.atSite(ctx, "read weather of "+site, site, func(t *Store, _ siteRow) error {
		k := int64(1) << 62
		if !known.IsZero() {
			k = ms(known)
		}
		highs, err := t.highsKnown(ctx, site, from, to, k)
		if err != nil {
			return err
		}
		if len(highs) == 0 {
			out, err = t.weatherRows(ctx, site, from, to, k)
			return err
		}
		setup, _, err := t.Setup(ctx, site)
		if err != nil {
			return err
		}
		loc := setup.Site.Location()
		// A date is moved by its hottest hour, which may be outside of the span.
		list, err := t.weatherRows(ctx, site, models.DateOf(from, loc).At(0, loc), models.DateOf(to, loc).AddDays(1).At(0, loc), k)
		for _, w := range models.WithHighs(list, highs, loc) {
			if !w.At.Before(from) && w.At.Before(to) {
				out = append(out, w)
			}
		}
		return err
	})
	return out, err
}

// weatherRows returns the observed hours and, of the others, the latest forecast, as known at an instant, by hour.
func (s *Store) weatherRows(ctx context.Context, site string, from, to time.Time, known int64) (out []models.WeatherRow, err error) {
	observed, err := gorm.G[observedRow](s.db).Scopes(ofSite(site)).Where("at >= ? AND at < ? AND at <= ?", ms(from), ms(to), known).Order("at").Find(ctx)
	if err != nil {
		return nil, err
	}
	forecast, err := gorm.G[forecastRow](s.db).Scopes(ofSite(site)).Where("at >= ? AND at < ?", ms(from), ms(to)).
		Where("issued_at = (SELECT MAX(g.issued_at) FROM weather_forecast g WHERE g.site = weather_forecast.site AND g.at = weather_forecast.at AND g.issued_at <= ?)", known).
		Order("at").Find(ctx)
	if err != nil {
		return nil, err
	}
	for _, w := range observed {
		for len(forecast) > 0 && forecast[0].At <= w.At {
			if forecast[0].At < w.At {
				out = append(out, weatherAt(models.WeatherForecast, forecast[0].At, forecast[0].IssuedAt, forecast[0].Values))
			}
			forecast = forecast[1:]
		}
		out = append(out, weatherAt(models.WeatherObserved, w.At, w.IssuedAt, w.Values))
	}
	for _, w := range forecast {
		out = append(out, weatherAt(models.WeatherForecast, w.At, w.IssuedAt, w.Values))
	}
	return out, nil
}

func weatherAt(kind string, at, issuedAt int64, v weatherValues) models.WeatherRow {
	return models.WeatherRow{Kind: kind, IssuedAt: instant(issuedAt), WeatherHour: models.WeatherHour{At: instant(at), TempC: v.TempC, HumidityPct: v.HumidityPct, RainMM: v.RainMM}}
}

// halfDayMs is the span of issue times of which ThinWeather keeps one issue.
const halfDayMs = 12 * 60 * 60 * 1000

// ThinWeather deletes forecasts of the hours in [from, to) that a newer one of the same half day of issue replaced.
func (s *Store) ThinWeather(ctx context.Context, site string, from, to time.Time) error {
	return s.change(ctx, "thin out weather of "+site, site, func(t *Store, _ siteRow) error {
		_, err := gorm.G[forecastRow](t.db).Scopes(ofSite(site)).Where("at >= ? AND at < ?", ms(from), ms(to)).
			Where(`EXISTS (SELECT 1 FROM weather_forecast g WHERE g.site = weather_forecast.site AND g.at = weather_forecast.at
				AND g.issued_at > weather_forecast.issued_at AND g.issued_at / ? = weather_forecast.issued_at / ?)`, halfDayMs, halfDayMs).Delete(ctx)
		return err
	})
}
