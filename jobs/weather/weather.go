// Package weather fetches forecasts from weather services, as often and in the way that their terms allow.
//
// Each service is a source: it turns a place into requests and their responses into a models.WeatherPost. Everything that services have in
// common is the Client's: who is asking, caching headers, conditional requests, limits, and when to ask again.
//
// Terms of use, as published when this was written; the page Settings states them beside the choice:
//
//   - MET Norway, Locationforecast 2.0: data under CC BY 4.0 and NLOD 2.0 with attribution; a User-Agent that names the program and a
//     contact; coordinates of at most four decimals; no request before Expires, then with If-Modified-Since; requests not at the full hour
//     (api.met.no/doc/TermsOfService, api.met.no/doc/locationforecast/HowTO).
//   - Open-Meteo: data under CC BY 4.0 with attribution; the free service is for non-commercial use and fewer than 10,000 requests a day,
//     commercial use needs a contract and its key (open-meteo.com/en/licence, open-meteo.com/en/terms; the key's parameter from memory).
//   - US National Weather Service, api.weather.gov: open data, free for any purpose, of places in the United States; a User-Agent with a
//     contact; a request beyond the rate limit may be repeated after it clears (weather.gov/documentation/services-web-api).
package weather

import (
	"cmp"
	"context"
	"fmt"
	"hash/fnv"
	"math"
	"net/http"
	"strconv"
	"time"

	"hotday/models"
)

// Addresses of the services.
const (
	metNorwayURL = "https://api.met.no"
	openMeteoURL = "https://api.open-meteo.com"
	customersURL = "https://customer-api.open-meteo.com" // with a key (from memory)
	nwsURL       = "https://api.weather.gov"
)

// Client fetches forecasts. Public and Now are required.
type Client struct {
	Public  *http.Client // for services and for addresses typed by users
	Private *http.Client // for OpenMeteoURL, which whoever runs the service has set; nil: Public
	Now     func() time.Time

	Version string // of this program, for the User-Agent
	Contact string // of whoever runs the service, for sites without their own
	// OpenMeteoURL is another address of Open-Meteo's interface, OpenMeteoKey the key of a contract with Open-Meteo; either may be empty.
	OpenMeteoURL, OpenMeteoKey string
	PlainHTTP                  bool     // allow addresses that are not https
	OutsideHosts               []string // hosts that documents may be on, see models.AllowedHost; none: any

	met, nws string // addresses for tests; "": those of the services
}

// source is a weather service.
type source interface {
	// fetch returns the forecast for a, or errNotModified, or a *failure. It sets what is to be known at the next time in a.state.
	fetch(ctx context.Context, a *ask) (models.WeatherPost, error)
}

// ask is one attempt at fetching a site's forecast.
type ask struct {
	c     *Client
	site  *models.Site
	now   time.Time
	state *models.WeatherFetch
	until time.Time // the response is not to be asked for again before this; zero: it doesn't say
}

// sourceOf returns the source of a site, or the problem that prevents asking it.
func (c *Client) sourceOf(site *models.Site) (s source, problem string) {
	w := site.Weather
	switch site.ForecastSource() {
	case models.WeatherMETNorway:
		if c.contact(site) == "" {
			return nil, models.FetchNoContact
		}
		return metNorway{cmp.Or(c.met, metNorwayURL)}, ""
	case models.WeatherNWS:
		if c.contact(site) == "" {
			return nil, models.FetchNoContact
		}
		return nws{cmp.Or(c.nws, nwsURL)}, ""
	case models.WeatherOpenMeteo:
		switch {
		case c.OpenMeteoURL != "":
			return openMeteo{c.OpenMeteoURL, c.OpenMeteoKey, true}, ""
		case c.OpenMeteoKey != "":
			return openMeteo{customersURL, c.OpenMeteoKey, false}, ""
		case !w.NonCommercial:
			return nil, models.FetchNotCommercial
		}
		return openMeteo{openMeteoURL, "", false}, ""
	case models.WeatherURL:
		return document{w.URL}, ""
	}
	return nil, ""
}

func (c *Client) contact(site *models.Site) string { return cmp.Or(site.Weather.Contact, c.Contact) }

// coordinate is an angle in decimal degrees with at most three decimals, about 100 m: services forbid more than four, and their grids are
// coarser. Trailing zeros are left out, since the NWS redirects addresses that have them (from memory).
func coordinate(deg *float64) string {
	return strconv.FormatFloat(math.Round(*deg*1000)/1000, 'f', -1, 64)
}

// subject identifies the forecast that a site fetches. When it changes, as to another source, place or contact, fetching starts afresh.
func subject(site *models.Site) string {
	w := site.Weather
	s := site.ForecastSource()
	if s == models.WeatherURL {
		return s + " " + w.URL
	}
	return fmt.Sprintf("%s %s,%s %s %t", s, coordinate(site.Latitude), coordinate(site.Longitude), w.Contact, w.NonCommercial)
}

// Times between requests.
const (
	between    = time.Hour // after a success, at least: hourly is enough for plans
	afterFault = 15 * time.Minute
	longest    = 6 * time.Hour    // back-off after faults
	latest     = 24 * time.Hour   // whatever a response says
	spread     = 10 * time.Minute // each site has its own part of it, so that sites do not ask at once, nor at the full hour
	settled    = time.Minute      // between attempts when the source is changed
)

// Due reports whether a site's forecast is to be fetched, and since when.
func Due(site *models.Site, state models.WeatherFetch, now time.Time) (since time.Time, due bool) {
	if site.ForecastSource() == models.WeatherNone {
		return time.Time{}, false
	}
	switch {
	case state.TriedAt == nil:
		return now, true
	case state.From != subject(site):
		since = state.TriedAt.Add(settled)
	case state.NextAt != nil:
		since = *state.NextAt
	}
	return since, !since.After(now)
}

// Fetch makes one attempt at fetching a site's forecast; the site must have a source. It returns the forecast, nil where there is
// nothing new, and the state from which the next attempt follows: before is that of the last one.
func (c *Client) Fetch(ctx context.Context, site models.Site, before models.WeatherFetch) (*models.WeatherPost, models.WeatherFetch) {
	now := c.Now()
	state := before
	if state.From != subject(&site) {
		state = models.WeatherFetch{From: subject(&site)}
	}
	state.TriedAt, state.Problem, state.Status = &now, "", 0
	s, problem := c.sourceOf(&site)
	if s == nil {
		state.Problem = problem
		state.NextAt = new(now.Add(between))
		return nil, state
	}
	a := &ask{c: c, site: &site, now: now, state: &state}
	post, err := s.fetch(ctx, a)
	if err != nil && err != errNotModified {
		a.fail(err)
		return nil, state
	}
	state.Failures = 0
	state.SucceededAt = &now
	wait := between
	if a.until.Sub(now) > wait {
		wait = min(a.until.Sub(now), latest)
	}
	state.NextAt = new(now.Add(wait + share(site.Code)))
	if err != nil {
		return nil, state
	}
	return &post, state
}

// fail records a failed attempt.
func (a *ask) fail(err error) {
	f := failureOf(err)
	s := a.state
	s.Problem, s.Status = f.problem, f.status
	s.Failures++
	if f.problem == models.FetchUnreadable {
		s.ETag, s.LastModified = "", "" // ask for the whole again
	}
	wait := min(afterFault<<min(s.Failures-1, 10), longest)
	s.NextAt = new(a.now.Add(max(wait, min(f.retryAfter, latest)) + share(a.site.Code)))
}

// share is a site's part of spread.
func share(site string) time.Duration {
	h := fnv.New32a()
	_, _ = h.Write([]byte(site))
	return time.Duration(h.Sum32()%uint32(spread/time.Second)) * time.Second
}
