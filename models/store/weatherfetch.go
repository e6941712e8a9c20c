package store

import (
	"context"

	"hotday/models"
)

// WeatherFetch returns the state of fetching a site's forecast, the zero value before the first attempt.
func (s *Store) WeatherFetch(ctx context.Context, site string) (out models.WeatherFetch, err error) {
	err = s.atSite(ctx, "read the weather fetch of "+site, site, func(t *Store, _ siteRow) error {
		r, found, err := row[struct {
			Source, Problem, Etag, LastModified, Forecast string
			TriedAt, SucceededAt, NextAt                  *int64
			Failures, Status                              int
		}](ctx, t, `SELECT source, tried_at, succeeded_at, next_at, failures, problem, status, etag, last_modified, forecast
			FROM weather_fetches WHERE site = ?`, site)
		if found {
			out = models.WeatherFetch{From: r.Source, TriedAt: instantOrNil(r.TriedAt), SucceededAt: instantOrNil(r.SucceededAt), NextAt: instantOrNil(r.NextAt),
				Failures: r.Failures, Problem: r.Problem, Status: r.Status, ETag: r.Etag, LastModified: r.LastModified, Forecast: r.Forecast}
		}
		return err
	})
	return out, err
}

// PutWeatherFetch replaces the state of fetching a site's forecast.
func (s *Store) PutWeatherFetch(ctx context.Context, site string, f models.WeatherFetch) error {
	return s.changeAside(ctx, "store the weather fetch of "+site, site, func(t *Store, _ siteRow) error {
		_, err := t.exec(ctx, `INSERT INTO weather_fetches (site, source, tried_at, succeeded_at, next_at, failures, problem, status, etag, last_modified, forecast)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (site) DO UPDATE SET source = excluded.source, tried_at = excluded.tried_at, succeeded_at = excluded.succeeded_at,
			next_at = excluded.next_at, failures = excluded.failures, problem = excluded.problem, status = excluded.status, etag = excluded.etag,
			last_modified = excluded.last_modified, forecast = excluded.forecast`,
			site, f.From, msOrNil(f.TriedAt), msOrNil(f.SucceededAt), msOrNil(f.NextAt), f.Failures, f.Problem, f.Status, f.ETag, f.LastModified, f.Forecast)
		return err
	})
}
