package jobs

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"time"

	"hotday/jobs/weather"
	"hotday/models"
)

// queueWeather queues the fetch of a site's forecast when it is due.
func (c Config) queueWeather(ctx context.Context, site models.Site, now time.Time) error {
	if site.ForecastSource() == models.WeatherNone {
		return nil
	}
	state, err := c.Store.WeatherFetch(ctx, site.Code)
	if err != nil {
		return err
	}
	since, due := weather.Due(&site, state, now)
	if !due {
		return nil
	}
	_, err = c.Store.Enqueue(ctx, models.Job{Kind: models.JobWeather, Site: site.Code, Key: since.UTC().Format(time.RFC3339)})
	return err
}

// Hours of the past whose forecasts are thinned out after a fetch: hourly fetches would otherwise keep some 200 forecasts of each hour.
const (
	thinFrom = 6 * 24 * time.Hour
	thinTo   = 2 * 24 * time.Hour
)

// fetchWeather makes one attempt at fetching a site's forecast and stores it as PUT …/weather does. Where it differs from the one before
// on planned days, the rest of the day is planned again. A failed attempt is part of the stored state, which says when the next is due.
func (c Config) fetchWeather(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	setup, _, err := c.Store.Setup(ctx, j.Site)
	if models.CodeOf(err) == models.CodeNotFound {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("fetch the weather of %s: %w", j.Site, err)
	}
	before, err := c.Store.WeatherFetch(ctx, j.Site)
	if err != nil {
		return nil, fmt.Errorf("fetch the weather of %s: %w", j.Site, err)
	}
	now := c.Now()
	if _, due := weather.Due(&setup.Site, before, now); !due {
		return nil, nil // the settings have changed, or it was fetched in the meantime
	}
	post, state := c.Weather.Fetch(ctx, setup.Site, before)
	if ctx.Err() != nil {
		return nil, ctx.Err() // shutting down
	}
	if state.Problem != "" {
		c.Log.Warn("no weather forecast", "site", j.Site, "source", setup.Site.ForecastSource(), "problem", state.Problem, "status", state.Status, "next", state.NextAt)
	}
	if state.Status == http.StatusNonAuthoritativeInfo {
		c.Log.Warn("the weather service says that this version of its interface will end", "site", j.Site, "source", setup.Site.ForecastSource())
	}
	return func(tx models.Store) error {
		if err := tx.PutWeatherFetch(ctx, j.Site, state); err != nil || post == nil {
			return err
		}
		return c.storeForecast(ctx, tx, setup.Site, *post, now)
	}, nil
}

func (c Config) storeForecast(ctx context.Context, tx models.Store, site models.Site, post models.WeatherPost, now time.Time) error {
	planned, err := plannedSpan(ctx, tx, site, now)
	if err != nil {
		return err
	}
	known := func() ([]models.WeatherRow, error) {
		return tx.Weather(ctx, site.Code, planned.From, planned.To, time.Time{})
	}
	then, err := known()
	if err != nil {
		return err
	}
	if err := tx.PutWeather(ctx, site.Code, post); err != nil {
		return err
	}
	if err := tx.ThinWeather(ctx, site.Code, now.Add(-thinFrom), now.Add(-thinTo)); err != nil {
		return err
	}
	since, err := known()
	if err != nil {
		return err
	}
	if err := addEvent(ctx, tx, site.Code, "demand", now, map[string]any{"weather": post.Kind, "hours": len(post.Hours)}); err != nil {
		return err
	}
	if _, err := tx.Enqueue(ctx, models.WatchJob(site.Code, now)); err != nil || !weatherChanged(then, since) {
		return err
	}
	_, err = tx.Enqueue(ctx, models.ReplanJob(site.Code, now))
	return err
}

// plannedSpan is the rest of the days of the latest plan, empty without one.
func plannedSpan(ctx context.Context, tx models.Store, site models.Site, now time.Time) (models.Span, error) {
	plan, err := tx.LatestPlanAlone(ctx, site.Code)
	if models.CodeOf(err) == models.CodeNotFound {
		return models.Span{From: now, To: now}, nil
	}
	from := plan.From.At(0, site.Location())
	if from.Before(now) {
		from = now
	}
	return models.Span{From: from, To: site.DayEnd(plan.From.AddDays(plan.Days - 1))}, err
}

// weatherStep is the change of an hour's temperature, K, that calls for a new plan: half of what the error of a same-day forecast is.
const weatherStep = 0.5

// weatherChanged reports whether an hour has become known, or its temperature differs by weatherStep or more.
func weatherChanged(then, now []models.WeatherRow) bool {
	was := make(map[int64]float64, len(then))
	for _, r := range then {
		was[r.At.Unix()] = r.TempC
	}
	for _, r := range now {
		if c, known := was[r.At.Unix()]; !known || math.Abs(r.TempC-c) >= weatherStep {
			return true
		}
	}
	return false
}
