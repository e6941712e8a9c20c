package weather

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

var noon = time.Date(2026, 7, 10, 10, 0, 0, 0, time.UTC)

// service is a weather service on this machine, with the client of a site that asks it.
type service struct {
	t *testing.T
	*Client
	now   time.Time
	site  models.Site
	state models.WeatherFetch

	mu      sync.Mutex
	asked   []*http.Request
	answers map[string]http.HandlerFunc // by path
	url     string
}

func fixture(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	return b
}

func newService(t *testing.T, source string) *service {
	t.Helper()
	s := &service{t: t, now: noon, answers: map[string]http.HandlerFunc{}}
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.asked = append(s.asked, r)
		if answer, ok := s.answers[r.URL.Path]; ok {
			answer(w, r)
			return
		}
		http.NotFound(w, r)
	}))
	t.Cleanup(server.Close)
	s.url = server.URL
	s.Client = &Client{Public: HTTPClient(true), Now: func() time.Time { return s.now }, Version: "v1.2 (dirty)", PlainHTTP: true, met: server.URL, nws: server.URL}
	s.site = models.Site{Code: "lido", Latitude: new(54.3214567), Longitude: new(-10.1), AltitudeM: 12.4,
		Weather: &models.WeatherSource{Source: source, Contact: "office@example.com"}}
	return s
}

// serves answers a path with a body and headers.
func (s *service) serves(path string, body []byte, headers ...string) {
	s.answers[path] = func(w http.ResponseWriter, _ *http.Request) {
		for i := 0; i < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		_, _ = w.Write(body)
	}
}

// fails answers a path with a status and headers.
func (s *service) fails(path string, status int, headers ...string) {
	s.answers[path] = func(w http.ResponseWriter, _ *http.Request) {
		for i := 0; i < len(headers); i += 2 {
			w.Header().Set(headers[i], headers[i+1])
		}
		w.WriteHeader(status)
	}
}

func (s *service) fetch() *models.WeatherPost {
	s.t.Helper()
	var post *models.WeatherPost
	post, s.state = s.Fetch(s.t.Context(), s.site, s.state)
	return post
}

func (s *service) last() *http.Request { return s.asked[len(s.asked)-1] }

// wait is the time until the next attempt, without the site's part of the spread.
func (s *service) wait() time.Duration { return s.state.NextAt.Sub(s.now) - share(s.site.Code) }

const metPath = "/weatherapi/locationforecast/2.0/compact"

func TestMETNorway(t *testing.T) {
	t.Parallel()
	s := newService(t, models.WeatherMETNorway)
	s.serves(metPath, fixture(t, "met_norway.json"), "Expires", "Fri, 10 Jul 2026 11:53:00 GMT", "Date", "Fri, 10 Jul 2026 10:00:00 GMT", "Last-Modified", "Fri, 10 Jul 2026 09:41:12 GMT")
	post := s.fetch()
	require.NotNil(t, post, "%+v", s.state)
	assert.Equal(t, models.WeatherForecast, post.Kind)
	assert.Equal(t, time.Date(2026, 7, 10, 9, 41, 12, 0, time.UTC), post.IssuedAt)
	require.Len(t, post.Hours, 15, "hourly up to 12:00, then every hour between the six-hourly values")
	for i, want := range []float64{27.4, 28.9, 30.1, 29.1, 28.1, 27.1, 26.1, 25.1, 24.1, 23.3} {
		assert.InDelta(t, want, post.Hours[i].TempC, 1e-9, "hour %d", i)
		assert.Equal(t, noon.Add(time.Duration(i)*time.Hour), post.Hours[i].At)
	}
	assert.InDelta(t, 0.2, *post.Hours[1].RainMM, 1e-9)
	assert.InDelta(t, 0.2, *post.Hours[4].RainMM, 1e-9, "a sixth of six hours' rain")
	assert.Nil(t, post.Hours[14].RainMM)
	assert.InDelta(t, 50.5, *post.Hours[5].HumidityPct, 1e-9)

	assert.Equal(t, "lat=54.321", strings.Split(s.last().URL.RawQuery, "&")[1], "no more than four decimals")
	assert.Equal(t, "altitude=12&lat=54.321&lon=-10.1", s.last().URL.RawQuery)
	assert.Equal(t, "hotday/v1.2dirty (office@example.com)", s.last().UserAgent())
	assert.Equal(t, "gzip", s.last().Header.Get("Accept-Encoding"))
	assert.Empty(t, s.last().Header.Get("If-Modified-Since"))
	assert.Equal(t, 113*time.Minute, s.wait(), "when it expires")

	_, due := Due(&s.site, s.state, s.state.NextAt.Add(-time.Second))
	assert.False(t, due, "never before")
	s.now = *s.state.NextAt
	_, due = Due(&s.site, s.state, s.now)
	assert.True(t, due)

	s.fails(metPath, http.StatusNotModified, "Expires", "Fri, 10 Jul 2026 12:30:00 GMT", "Date", "Fri, 10 Jul 2026 12:00:00 GMT")
	require.Nil(t, s.fetch())
	assert.Equal(t, "Fri, 10 Jul 2026 09:41:12 GMT", s.last().Header.Get("If-Modified-Since"), "exactly as received")
	assert.Empty(t, s.state.Problem)
	assert.Equal(t, s.now, *s.state.SucceededAt)
	assert.Equal(t, time.Hour, s.wait(), "hourly is enough")
	assert.Equal(t, "Fri, 10 Jul 2026 09:41:12 GMT", s.state.LastModified, "kept for the next")
}

func TestOpenMeteo(t *testing.T) {
	t.Parallel()
	s := newService(t, models.WeatherOpenMeteo)
	require.Nil(t, s.fetch())
	assert.Equal(t, models.FetchNotCommercial, s.state.Problem, "a shop has to say that it may use the free service")
	assert.Empty(t, s.asked)

	c, _ := s.sourceOf(&models.Site{Weather: &models.WeatherSource{Source: models.WeatherOpenMeteo, NonCommercial: true}})
	assert.Equal(t, openMeteo{openMeteoURL, "", false}, c)
	s.OpenMeteoKey = "k1"
	c, _ = s.sourceOf(&s.site)
	assert.Equal(t, openMeteo{customersURL, "k1", false}, c, "a contract's key is used at the address for customers")

	s.OpenMeteoURL = s.url
	s.serves("/v1/forecast", fixture(t, "open_meteo.json"), "ETag", `"x1"`, "Cache-Control", "private, max-age=9000", "Age", "600")
	post := s.fetch()
	require.NotNil(t, post, "%+v", s.state)
	assert.Equal(t, noon, post.IssuedAt, "when it was fetched")
	require.Len(t, post.Hours, 3, "hours that the model does not reach are left out")
	assert.Equal(t, models.WeatherHour{At: noon.Add(-time.Hour), TempC: 27.4, HumidityPct: new(48.0), RainMM: new(0.0)}, post.Hours[0])
	assert.InDelta(t, 0.3, *post.Hours[1].RainMM, 0, "the service's is of the hour before")
	q := s.last().URL.Query()
	assert.Equal(t, []string{"54.321", "-10.1", "12", "k1", "unixtime"}, []string{q.Get("latitude"), q.Get("longitude"), q.Get("elevation"), q.Get("apikey"), q.Get("timeformat")})
	assert.Equal(t, 140*time.Minute, s.wait())

	s.now = *s.state.NextAt
	s.fails("/v1/forecast", http.StatusNotModified)
	require.Nil(t, s.fetch())
	assert.Equal(t, `"x1"`, s.last().Header.Get("If-None-Match"))
}

func TestNWS(t *testing.T) {
	t.Parallel()
	s := newService(t, models.WeatherNWS)
	s.site.Latitude, s.site.Longitude = new(40.1234), new(-90.45678)
	atHome := func(b []byte) []byte { return []byte(strings.ReplaceAll(string(b), nwsURL, s.url)) }
	const points, hourly = "/points/40.123,-90.457", "/gridpoints/XYZ/12,34/forecast/hourly"
	s.serves(points, atHome(fixture(t, "nws_points.json")))
	s.serves(hourly, atHome(fixture(t, "nws_hourly.json")), "Cache-Control", "public, max-age=1200, s-maxage=3600", "Expires", "Fri, 10 Jul 2026 19:00:00 GMT")
	post := s.fetch()
	require.NotNil(t, post, "%+v", s.state)
	assert.Equal(t, time.Date(2026, 7, 10, 9, 12, 31, 0, time.UTC), post.IssuedAt)
	require.Len(t, post.Hours, 3)
	assert.Equal(t, models.WeatherHour{At: noon, TempC: 27.2, HumidityPct: new(55.0)}, post.Hours[0])
	assert.InDelta(t, 35, post.Hours[2].TempC, 1e-9)
	assert.Equal(t, "hotday/v1.2dirty (office@example.com)", s.last().UserAgent())
	assert.Equal(t, time.Hour, s.wait(), "max-age comes before Expires")

	s.now = *s.state.NextAt
	require.NotNil(t, s.fetch())
	require.Len(t, s.asked, 3, "the grid cell is asked for once")

	s.fails(hourly, http.StatusNotFound)
	require.Nil(t, s.fetch())
	assert.Equal(t, models.FetchNoForecast, s.state.Problem)
	s.serves(hourly, atHome(fixture(t, "nws_hourly.json")))
	require.NotNil(t, s.fetch(), "the cell is asked for again")
	assert.Zero(t, s.state.Failures)

	s.serves(points, fixture(t, "nws_points.json"))
	s.state = models.WeatherFetch{}
	require.Nil(t, s.fetch())
	assert.Equal(t, models.FetchUnreadable, s.state.Problem, "another host is not followed")
}

func TestOwnDocument(t *testing.T) {
	t.Parallel()
	s := newService(t, models.WeatherURL)
	s.site.Weather.URL, s.site.Latitude, s.site.Longitude = s.url+"/weather.json", nil, nil
	s.serves("/weather.json", fixture(t, "own.json"))
	post := s.fetch()
	require.NotNil(t, post, "%+v", s.state)
	assert.InDelta(t, 28.9, post.Hours[1].TempC, 0)
	assert.Equal(t, time.Hour, s.wait(), "hourly where the response says nothing")

	n := len(s.asked)
	s.OutsideHosts = []string{"weather.example.com"}
	require.Nil(t, s.fetch())
	assert.Equal(t, models.FetchNotAllowed, s.state.Problem, "the operator's list of hosts")
	s.OutsideHosts = []string{"127.0.0.1"}
	s.Public, s.PlainHTTP = HTTPClient(false), false
	require.Nil(t, s.fetch())
	assert.Equal(t, models.FetchNotAllowed, s.state.Problem, "not https")
	s.PlainHTTP = true
	require.Nil(t, s.fetch())
	assert.Equal(t, models.FetchNotAllowed, s.state.Problem, "an address of this machine")
	assert.Len(t, s.asked, n)
}

func TestAContactIsRequiredWhereTheTermsAskForOne(t *testing.T) {
	t.Parallel()
	for _, source := range []string{models.WeatherMETNorway, models.WeatherNWS} {
		s := newService(t, source)
		s.site.Weather.Contact = ""
		require.Nil(t, s.fetch())
		assert.Equal(t, models.FetchNoContact, s.state.Problem)
		assert.Empty(t, s.asked)
		s.Contact = "ops@example.org"
		require.Nil(t, s.fetch())
		assert.Contains(t, s.last().UserAgent(), "(ops@example.org)", "whoever runs the service can be reached")
		s.site.Weather.Contact = "office@example.com"
		_, due := Due(&s.site, s.state, s.now.Add(settled))
		assert.True(t, due, "changed settings do not wait for the back-off to end")
		_, due = Due(&s.site, s.state, s.now.Add(settled/2))
		assert.False(t, due)
	}
}

func TestBackOff(t *testing.T) {
	t.Parallel()
	s := newService(t, models.WeatherMETNorway)
	s.state.LastModified, s.state.From = "Fri", subject(&s.site)
	for _, c := range []struct {
		status  int
		after   string
		problem string
		want    time.Duration
	}{
		{429, "", models.FetchTooOften, 15 * time.Minute},
		{503, "7200", models.FetchFailing, 2 * time.Hour},
		{503, "60", models.FetchFailing, time.Hour}, // back-off is longer
		{429, "Fri, 10 Jul 2026 17:00:00 GMT", models.FetchTooOften, 7 * time.Hour},
		{500, "", models.FetchFailing, 4 * time.Hour},
		{502, "", models.FetchFailing, 6 * time.Hour},
		{403, "", models.FetchRefused, 6 * time.Hour},
		{301, "", models.FetchFailing, 6 * time.Hour},
		{429, "99999999", models.FetchTooOften, 24 * time.Hour},
	} {
		s.fails(metPath, c.status, "Retry-After", c.after, "Location", s.url+"/elsewhere")
		require.Nil(t, s.fetch())
		assert.Equal(t, c.problem, s.state.Problem)
		assert.Equal(t, c.status, s.state.Status)
		assert.Equal(t, c.want, s.wait(), "%d with %q", c.status, c.after)
	}
	assert.Equal(t, 9, s.state.Failures)
	assert.Len(t, s.asked, 9, "redirects are not followed")
	assert.Equal(t, "Fri", s.last().Header.Get("If-Modified-Since"), "the forecast before is still good")
	s.serves(metPath, fixture(t, "met_norway.json"))
	require.NotNil(t, s.fetch())
	assert.Zero(t, s.state.Failures)

	s.met = "http://127.0.0.1:1"
	require.Nil(t, s.fetch())
	assert.Equal(t, models.FetchUnreachable, s.state.Problem)
	assert.Zero(t, s.state.Status)
}

func TestWhatIsNotAForecast(t *testing.T) {
	t.Parallel()
	met, meteo := string(fixture(t, "met_norway.json")), string(fixture(t, "open_meteo.json"))
	hourly, own := string(fixture(t, "nws_hourly.json")), string(fixture(t, "own.json"))
	for name, c := range map[string]struct{ source, body string }{
		"not JSON":               {models.WeatherMETNorway, "<html>"},
		"empty":                  {models.WeatherMETNorway, "{}"},
		"another unit":           {models.WeatherMETNorway, strings.Replace(met, `"celsius"`, `"fahrenheit"`, 1)},
		"hotter than 60 °C":      {models.WeatherMETNorway, strings.Replace(met, "30.1", "90.1", 1)},
		"no issue time":          {models.WeatherMETNorway, strings.Replace(met, "updated_at", "updated", 1)},
		"too large":              {models.WeatherMETNorway, met + strings.Repeat(" ", maxBody)},
		"lists of two sizes":     {models.WeatherOpenMeteo, strings.Replace(meteo, "1783684800", "1783684800, 1783688400", 1)},
		"°F":                     {models.WeatherOpenMeteo, strings.Replace(meteo, "°C", "°F", 1)},
		"an error":               {models.WeatherOpenMeteo, `{"error":true,"reason":"Latitude must be in range of -90 to 90°."}`},
		"kelvin":                 {models.WeatherNWS, strings.Replace(hourly, `"F"`, `"K"`, 1)},
		"another field":          {models.WeatherURL, strings.Replace(own, `"rain_mm"`, `"rain"`, 1)},
		"an hour twice":          {models.WeatherURL, strings.Replace(own, "T11:00", "T10:00", 1)},
		"a document of no hours": {models.WeatherURL, `{"kind":"forecast","issued_at":"2026-07-10T09:30:00Z","hours":[]}`},
	} {
		s := newService(t, c.source)
		s.site.Weather.URL, s.OpenMeteoURL = s.url+"/own", s.url
		s.state.From, s.state.Forecast, s.state.ETag = subject(&s.site), s.url+"/hourly", `"x"`
		for _, path := range []string{metPath, "/v1/forecast", "/hourly", "/own"} {
			s.serves(path, []byte(c.body), "ETag", `"y"`)
		}
		require.Nil(t, s.fetch(), name)
		assert.Equal(t, models.FetchUnreadable, s.state.Problem, name)
		assert.Empty(t, s.state.ETag, "%s: it is asked for again as a whole", name)
	}
}

func TestSitesDoNotAskAtOnce(t *testing.T) {
	t.Parallel()
	at := map[time.Duration]bool{}
	for i := range 100 {
		d := share(fmt.Sprintf("site-%d", i))
		require.Less(t, d, spread)
		at[d] = true
	}
	assert.Greater(t, len(at), 60, "spread over ten minutes")
}

func TestNothingIsFetchedByDefault(t *testing.T) {
	t.Parallel()
	for _, site := range []models.Site{{}, {Weather: &models.WeatherSource{Source: models.WeatherNone}}} {
		_, due := Due(&site, models.WeatherFetch{}, noon)
		assert.False(t, due)
	}
}
