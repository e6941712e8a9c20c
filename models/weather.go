package models

import (
	"net/url"
	"strings"
	"time"
)

// Sources of a site's weather forecast.
const (
	WeatherNone      = "none"       // nothing is fetched
	WeatherMETNorway = "met_norway" // MET Norway, Locationforecast 2.0
	WeatherOpenMeteo = "open_meteo" // Open-Meteo, or a service with its interface
	WeatherNWS       = "nws"        // US National Weather Service, api.weather.gov
	WeatherURL       = "url"        // the body of PUT …/weather, at an address of the site's own
)

// WeatherSource is where a site's weather forecast is fetched from. Without one, nothing is fetched.
type WeatherSource struct {
	Source        string `json:"source" default:"none" validate:"oneof=none met_norway open_meteo nws url"`
	Contact       string `json:"contact,omitempty" opt:"true" validate:"max=200"` // e-mail or web address by which the service can reach the shop; empty: that of whoever runs the service
	NonCommercial bool   `json:"non_commercial" default:"false"`                  // open_meteo: the shop declares that its use is not commercial, as the terms of the free service require
	URL           string `json:"url,omitempty" opt:"true" validate:"max=2000"`    // of url
}

// ForecastSource is the source of the site's weather forecast, WeatherNone where it has none.
func (s *Site) ForecastSource() string {
	if s.Weather == nil || s.Weather.Source == "" {
		return WeatherNone
	}
	return s.Weather.Source
}

// weather checks where a site is and where its forecast comes from.
func (c *checker) weather(s *Site) {
	switch {
	case s.Latitude == nil && s.Longitude != nil:
		c.add("/site/latitude", "a latitude, -90 to 90", "a longitude alone is not a place")
	case s.Latitude != nil && s.Longitude == nil:
		c.add("/site/longitude", "a longitude, -180 to 180", "a latitude alone is not a place")
	}
	w := s.Weather
	if w == nil {
		return
	}
	if strings.ContainsFunc(w.Contact, func(r rune) bool { return r < ' ' || r > '~' }) {
		c.add("/site/weather/contact", "an e-mail or web address in plain ASCII", "it is sent in a header, which takes no other characters")
	}
	switch s.ForecastSource() {
	case WeatherMETNorway, WeatherOpenMeteo, WeatherNWS:
		if s.Latitude == nil && s.Longitude == nil {
			c.add("/site/latitude", "the site's latitude and longitude", "this service forecasts for a place, and the site has none")
		}
	case WeatherURL:
		if u, err := url.Parse(w.URL); err != nil || u.Host == "" || (u.Scheme != "https" && u.Scheme != "http") {
			c.add("/site/weather/url", "an address such as https://example.com/forecast.json", "%q is not a web address", short(w.URL))
		}
	}
}

// WeatherFetch is the state of fetching a site's forecast.
type WeatherFetch struct {
	From         string     `json:"-"` // what the state is of: source, place and address
	TriedAt      *time.Time `json:"tried_at"`
	SucceededAt  *time.Time `json:"succeeded_at"`
	NextAt       *time.Time `json:"next_at"`
	Failures     int        `json:"failures"` // in a row
	Problem      string     `json:"problem"`  // of the last attempt, "" for none
	Status       int        `json:"status"`   // HTTP status of the last attempt's response, 0 for none
	ETag         string     `json:"-"`
	LastModified string     `json:"-"`
	Forecast     string     `json:"-"` // the address that the service named for the site's place
}

// Problems of fetching a forecast.
const (
	FetchNoContact     = "no_contact"     // the service wants a contact, and there is none
	FetchNotCommercial = "not_commercial" // the free service is for non-commercial use, which the site has not declared
	FetchUnreachable   = "unreachable"    // no response
	FetchNotAllowed    = "not_allowed"    // the address is of this machine or a private network, or not https
	FetchRefused       = "refused"        // 401 or 403
	FetchNoForecast    = "no_forecast"    // 400 or 404: the service has none for this place, or there is nothing at the address
	FetchTooOften      = "too_often"      // 429
	FetchFailing       = "failing"        // any other status
	FetchUnreadable    = "unreadable"     // not the documented format, or too large
)
