package main

import (
	"context"
	"time"

	"hotday/models"
)

// spy is a store that measures the processor time of reading, while nothing else runs.
type spy struct {
	models.Store
	costs *costs
}

// Read implements models.Store.
func (s *spy) Read(ctx context.Context, fn func(models.Store) error) error {
	return s.Store.Read(ctx, func(st models.Store) error { return fn(&spy{st, s.costs}) })
}

// since adds the processor time since an instant to a sum.
func since(sum *time.Duration, used time.Duration) { *sum += processTime() - used }

// Counts implements models.SalesStore; the others, their interfaces.
func (s *spy) Counts(ctx context.Context, site string, f models.SalesFilter, p models.Page) (models.Rows[models.SalesRow], error) {
	defer since(&s.costs.rows, processTime())
	return s.Store.Counts(ctx, site, f, p)
}

// Weather reads rows.
func (s *spy) Weather(ctx context.Context, site string, from, to, known time.Time) ([]models.WeatherRow, error) {
	defer since(&s.costs.rows, processTime())
	return s.Store.Weather(ctx, site, from, to, known)
}

// Setup decodes a document.
func (s *spy) Setup(ctx context.Context, site string) (models.Setup, string, error) {
	defer since(&s.costs.documents, processTime())
	return s.Store.Setup(ctx, site)
}

// LatestPlanAlone decodes a document.
func (s *spy) LatestPlanAlone(ctx context.Context, site string) (models.Plan, error) {
	defer since(&s.costs.documents, processTime())
	return s.Store.LatestPlanAlone(ctx, site)
}

// Sheets decodes documents.
func (s *spy) Sheets(ctx context.Context, site string, from, to models.Date) ([]models.PrepSheet, error) {
	defer since(&s.costs.documents, processTime())
	return s.Store.Sheets(ctx, site, from, to)
}

// ForecastState reads a document, which is decoded by those who learn or forecast.
func (s *spy) ForecastState(ctx context.Context, site string) (models.ForecastState, error) {
	defer since(&s.costs.documents, processTime())
	return s.Store.ForecastState(ctx, site)
}

// DayForecasts decodes documents.
func (s *spy) DayForecasts(ctx context.Context, site string, from, to models.Date) ([]models.DayForecast, error) {
	defer since(&s.costs.documents, processTime())
	return s.Store.DayForecasts(ctx, site, from, to)
}
