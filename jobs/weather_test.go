package jobs

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/facts"
)

// forecaster is a server on this machine with a forecast of a high for the shop's days, and a shop that fetches from it.
type forecaster struct {
	*shop
	status, asked int
	highC         float64
}

func newForecaster(t *testing.T) *forecaster {
	f := &forecaster{shop: newShop(t, "2026-07-10T12:00:00+02:00"), highC: 31}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		f.asked++
		if f.status != 0 {
			w.Header().Set("Retry-After", "5400")
			w.WriteHeader(f.status)
			return
		}
		fmt.Fprintf(w, `{"kind":"forecast","issued_at":%q,"hours":[{"at":"2026-07-11T12:00:00Z","temp_c":%g},{"at":"2026-07-11T13:00:00Z","temp_c":%g}]}`,
			f.now.UTC().Format(time.RFC3339), f.highC-1, f.highC)
	}))
	t.Cleanup(server.Close)
	f.PrivateWebhooks = true
	f.Config = f.withDefaults()
	f.setSource(&models.WeatherSource{Source: models.WeatherURL, URL: server.URL})
	return f
}

func (f *forecaster) setSource(w *models.WeatherSource) {
	setup, etag, err := f.Store.Setup(f.t.Context(), f.site)
	require.NoError(f.t, err)
	setup.Site.Weather = w
	_, _, err = f.Store.PutSetup(f.t.Context(), setup, etag, f.now)
	require.NoError(f.t, err)
}

// check runs the scheduler's check and the fetch that it queues, and returns the kinds of job queued by that.
func (f *forecaster) check() (fetched bool, queued []string) {
	f.t.Helper()
	require.NoError(f.t, f.Config.check(f.t.Context(), f.now, checks{f.site: {at: f.now}}))
	n := len(f.queue)
	for _, j := range f.queue[:n] {
		if j.Kind != models.JobWeather {
			continue
		}
		fetched = true
		effect, err := f.work()[models.JobWeather](f.t.Context(), j)
		require.NoError(f.t, err)
		if effect != nil {
			require.NoError(f.t, f.Store.Within(f.t.Context(), func(tx models.Store) error { return effect(recorder{tx, f.shop}) }))
		}
	}
	for _, j := range f.queue[n:] {
		queued = append(queued, j.Kind)
	}
	f.queue = nil
	return fetched, queued
}

func (f *forecaster) high() float64 {
	f.t.Helper()
	rows, err := f.Store.Weather(f.t.Context(), f.site, f.now, f.now.AddDate(0, 0, 3), time.Time{})
	require.NoError(f.t, err)
	high := -99.0
	for _, r := range rows {
		if r.At.Equal(time.Date(2026, 7, 11, 13, 0, 0, 0, time.UTC)) {
			high = r.TempC
		}
	}
	return high
}

func (f *forecaster) state() models.WeatherFetch {
	s, err := f.Store.WeatherFetch(f.t.Context(), f.site)
	require.NoError(f.t, err)
	return s
}

func TestTheForecastIsFetchedWhenItIsDue(t *testing.T) {
	t.Parallel()
	f := newForecaster(t)
	request, err := f.Gather(t.Context(), nil, facts.GatherQuery{From: "2026-07-11", Days: 2, Now: f.now})
	require.NoError(t, err)
	_, _, err = f.Store.AddPlan(t.Context(), f.site, models.Plan{Digest: "d", ComputedAt: f.now, From: "2026-07-11", Days: 2}, request, f.now)
	require.NoError(t, err)
	fetched, queued := f.check()
	require.True(t, fetched)
	assert.Equal(t, []string{models.JobWatch, models.JobReplan}, queued, "the plan rests on another forecast")
	assert.InDelta(t, 31, f.high(), 0)
	fetched, _ = f.check()
	assert.False(t, fetched, "not due")

	f.now = *f.state().NextAt
	f.highC = 31.3
	fetched, queued = f.check()
	require.True(t, fetched)
	assert.Equal(t, []string{models.JobWatch}, queued, "too small a change for a new plan")
	assert.InDelta(t, 31.3, f.high(), 0)

	f.now = *f.state().NextAt
	f.highC = 33
	_, queued = f.check()
	assert.Contains(t, queued, models.JobReplan)

	require.NoError(t, f.Store.PutWeatherHigh(t.Context(), f.site, "2026-07-11", new(36.0), f.now))
	f.now = *f.state().NextAt
	f.highC = 29
	_, queued = f.check()
	assert.Equal(t, []string{models.JobWatch}, queued)
	assert.InDelta(t, 36, f.high(), 0, "the manager's number holds")
}

func TestAFailedFetchIsRememberedAndWaits(t *testing.T) {
	t.Parallel()
	f := newForecaster(t)
	f.status = http.StatusServiceUnavailable
	fetched, queued := f.check()
	require.True(t, fetched)
	assert.Empty(t, queued)
	s := f.state()
	assert.Equal(t, models.FetchFailing, s.Problem)
	assert.Equal(t, http.StatusServiceUnavailable, s.Status)
	assert.Nil(t, s.SucceededAt)
	assert.GreaterOrEqual(t, s.NextAt.Sub(f.now), 90*time.Minute, "as the service asks")
	f.now = s.NextAt.Add(-time.Second)
	fetched, _ = f.check()
	assert.False(t, fetched)
	f.now, f.status = *s.NextAt, 0
	f.check()
	assert.Empty(t, f.state().Problem)
	assert.NotNil(t, f.state().SucceededAt)
}

func TestNothingIsFetchedUntilASiteAsksForIt(t *testing.T) {
	t.Parallel()
	f := newForecaster(t)
	f.setSource(nil)
	fetched, _ := f.check()
	assert.False(t, fetched)
	effect, err := f.fetchWeather(t.Context(), models.Job{Kind: models.JobWeather, Site: f.site})
	require.NoError(t, err)
	assert.Nil(t, effect, "a job queued before the source was removed does nothing")
	assert.Zero(t, f.asked)
}
