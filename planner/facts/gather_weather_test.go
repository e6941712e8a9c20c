package facts_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/facts"
)

// An old forecast is less certain than a new one of the same hours. A manager's number does not make it newer.
func TestRangesWidenWithTheAgeOfTheForecast(t *testing.T) {
	t.Parallel()
	s, story := demoShop(t)
	site := story.Setup.Site.Code
	refit(t, s, site, story.Now)
	sunday := story.Saturday.AddDays(1)
	issue := func(at time.Time) (width float64, issued *time.Time) {
		post := story.Forecast()
		post.IssuedAt = at
		for i := range post.Hours {
			post.Hours[i].At = post.Hours[i].At.AddDate(0, 0, 7) // a week that has no other forecast
		}
		require.NoError(t, s.PutWeather(ctx, site, post))
		r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: site, From: sunday.AddDays(14), Days: 1, Now: story.Now})
		require.NoError(t, err)
		for _, f := range r.Forecast {
			if f.Date == sunday.AddDays(14) {
				width += f.Quantiles[len(f.Quantiles)-1] - f.Quantiles[0]
			}
		}
		require.Positive(t, width)
		return width, r.WeatherIssuedAt
	}
	old, issued := issue(story.Now.AddDate(0, 0, -9))
	assert.Equal(t, story.Now.Add(-time.Hour).Truncate(time.Hour).UTC(), issued.UTC(), "that of the days before")
	fresh, issued := issue(story.Now)
	assert.Equal(t, story.Now.UTC(), issued.UTC())
	assert.Greater(t, old, fresh*1.01)

	require.NoError(t, s.PutWeatherHigh(ctx, site, sunday, new(38.0), story.Now))
	r, err := facts.Gather(ctx, s, facts.GatherQuery{Site: site, From: sunday, Days: 1, Now: story.Now.Add(5 * time.Hour)})
	require.NoError(t, err)
	high := -99.0
	for _, w := range r.Weather {
		if models.DateOf(w.At, story.Setup.Site.Location()) == sunday {
			high = max(high, w.TempC)
		}
	}
	assert.InDelta(t, 38, high, 1e-9)
	assert.Equal(t, story.Forecast().IssuedAt.UTC(), r.WeatherIssuedAt.UTC(), "of the days planned")
}
