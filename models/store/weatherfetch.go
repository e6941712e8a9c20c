package store

import (
	"context"

	"gorm.io/gorm"

	"hotday/models"
)

type weatherFetchRow struct {
	Site         string `gorm:"primaryKey"`
	Source       string
	TriedAt      *int64
	SucceededAt  *int64
	NextAt       *int64
	Failures     int
	Problem      string
	Status       int
	ETag         string `gorm:"column:etag"`
	LastModified string
	Forecast     string
}

func (weatherFetchRow) TableName() string { return "weather_fetches" }

// WeatherFetch returns the state of fetching a site's forecast, the zero value before the first attempt.
func (s *Store) WeatherFetch(ctx context.Context, site string) (out models.WeatherFetch, err error) {
	err = s.atSite(ctx, "read the weather fetch of "+site, site, func(t *Store, _ siteRow) error {
		r, found, err := one(gorm.G[weatherFetchRow](t.db).Scopes(ofSite(site)).Take(ctx))
		if found {
			out = models.WeatherFetch{From: r.Source, TriedAt: instantOrNil(r.TriedAt), SucceededAt: instantOrNil(r.SucceededAt), NextAt: instantOrNil(r.NextAt),
				Failures: r.Failures, Problem: r.Problem, Status: r.Status, ETag: r.ETag, LastModified: r.LastModified, Forecast: r.Forecast}
		}
		return err
	})
	return out, err
}

// PutWeatherFetch replaces the state of fetching a site's forecast.
func (s *Store) PutWeatherFetch(ctx context.Context, site string, f models.WeatherFetch) error {
	return s.changeAside(ctx, "store the weather fetch of "+site, site, func(t *Store, _ siteRow) error {
		return gorm.G[weatherFetchRow](t.db, replace).Create(ctx, &weatherFetchRow{Site: site, Source: f.From, TriedAt: msOrNil(f.TriedAt),
			SucceededAt: msOrNil(f.SucceededAt), NextAt: msOrNil(f.NextAt), Failures: f.Failures, Problem: f.Problem, Status: f.Status, ETag: f.ETag,
			LastModified: f.LastModified, Forecast: f.Forecast})
	})
}
