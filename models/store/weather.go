package store

import (
	"context"
	"time"

	"hotday/models"
)

// PutWeather stores hours. An observed hour replaces the stored one; a forecast hour replaces only that of the same issue.
func (s *Store) PutWeather(ctx context.Context, site string, w models.WeatherPost) error {
	into, key := "weather_observed", "site, at"
	if w.Kind == models.WeatherForecast {
		into, key = "weather_forecast", "site, at, issued_at"
	}
	return s.change(ctx, "store weather of "+site, site, func(t *Store, _ siteRow) error {
		for _, h := range w.Hours {
			if _, err := t.exec(ctx, "INSERT INTO "+into+` (site, at, issued_at, temp_c, humidity_pct, rain_mm) VALUES (?, ?, ?, ?, ?, ?)
				ON CONFLICT (`+key+`) DO UPDATE SET issued_at = excluded.issued_at, temp_c = excluded.temp_c,
				humidity_pct = excluded.humidity_pct, rain_mm = excluded.rain_mm`,
				site, ms(h.At), ms(w.IssuedAt), h.TempC, h.HumidityPct, h.RainMM); err != nil {
				return err
			}
		}
		return nil
	})
}

const weatherQuery = `SELECT 'observed' AS kind, at, issued_at, temp_c, humidity_pct, rain_mm FROM weather_observed
	WHERE site = ? AND at >= ? AND at < ? AND at <= ?
	UNION ALL
	SELECT 'forecast', f.at, f.issued_at, f.temp_c, f.humidity_pct, f.rain_mm FROM weather_forecast f
	WHERE f.site = ? AND f.at >= ? AND f.at < ?
	AND f.issued_at = (SELECT MAX(g.issued_at) FROM weather_forecast g WHERE g.site = f.site AND g.at = f.at AND g.issued_at <= ?)
	AND NOT EXISTS (SELECT 1 FROM weather_observed o WHERE o.site = f.site AND o.at = f.at AND o.at <= ?)
	ORDER BY 2`

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

func (s *Store) weatherRows(ctx context.Context, site string, from, to time.Time, known int64) (out []models.WeatherRow, err error) {
	list, err := rows[struct {
		Kind         string
		At, IssuedAt int64
		TempC        float64
		HumidityPct  *float64
		RainMm       *float64
	}](ctx, s, weatherQuery, site, ms(from), ms(to), known, site, ms(from), ms(to), known, known)
	for _, w := range list {
		out = append(out, models.WeatherRow{Kind: w.Kind, IssuedAt: instant(w.IssuedAt), WeatherHour: models.WeatherHour{
			At: instant(w.At), TempC: w.TempC, HumidityPct: w.HumidityPct, RainMM: w.RainMm}})
	}
	return out, err
}

// halfDayMs is the span of issue times of which ThinWeather keeps one issue.
const halfDayMs = 12 * 60 * 60 * 1000

// ThinWeather deletes forecasts of the hours in [from, to) that a newer one of the same half day of issue replaced.
func (s *Store) ThinWeather(ctx context.Context, site string, from, to time.Time) error {
	return s.change(ctx, "thin out weather of "+site, site, func(t *Store, _ siteRow) error {
		_, err := t.exec(ctx, `DELETE FROM weather_forecast AS f WHERE site = ? AND at >= ? AND at < ? AND EXISTS (SELECT 1 FROM weather_forecast g
			WHERE g.site = f.site AND g.at = f.at AND g.issued_at > f.issued_at AND g.issued_at / ? = f.issued_at / ?)`,
			site, ms(from), ms(to), halfDayMs, halfDayMs)
		return err
	})
}
