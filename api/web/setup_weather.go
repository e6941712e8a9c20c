package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/form"
	"hotday/api/web/places"
	"hotday/models"
)

// weatherSection is the step of the set-up for the shop's place and its forecast.
const weatherSection = "weather"

// maxPlaces is the number of places that a search lists.
const maxPlaces = 8

// weatherCard is what the weather step shows beside its fields.
type weatherCard struct {
	Typed   string // place to look up
	Found   []placeChoice
	Missing bool     // nothing was found
	State   []string // of fetching, in sentences
	Problem string   // of the last attempt
	Credit  string   // of the forecast in use
	Table   string   // source and licence of the table of places
}

// placeChoice is a place to choose. At is its latitude and longitude.
type placeChoice struct{ Name, At string }

func newWeatherCard(site models.Site, f models.WeatherFetch, v voice, now time.Time) *weatherCard {
	c := &weatherCard{Table: places.Attribution}
	source := site.ForecastSource()
	if source == models.WeatherNone {
		c.State = []string{v.Say("setup.weather.state.none")}
		return c
	}
	c.Credit = creditOf(site, v)
	if f.TriedAt == nil {
		c.State = append(c.State, v.Say("setup.weather.state.waiting"))
		return c
	}
	if f.SucceededAt != nil {
		c.State = append(c.State, v.Say("setup.weather.state.succeeded", "when", v.Near(*f.SucceededAt, now)))
	}
	if f.Problem != "" {
		c.Problem = v.Say("setup.weather.problem." + f.Problem)
	}
	if f.NextAt != nil {
		c.State = append(c.State, v.Say("setup.weather.state.next", "when", v.Near(*f.NextAt, now)))
	}
	return c
}

// creditOf is the attribution that the source of a site's forecast asks for, "" for none.
func creditOf(site models.Site, v voice) string {
	switch source := site.ForecastSource(); source {
	case models.WeatherMETNorway, models.WeatherOpenMeteo, models.WeatherNWS:
		return v.Say("weather.credit." + source)
	}
	return ""
}

// findPlace looks the typed place up, or takes a chosen one, and reports whether the form asked for either. The coordinates of the first
// place found, or of the chosen one, are filled in.
func (t *setupInput) findPlace(site models.Site, typed url.Values, card *weatherCard) bool {
	card.Typed = typed.Get("place")
	at := typed.Get("at")
	if !typed.Has("find") && at == "" {
		return false
	}
	for _, p := range places.Find(card.Typed, site.Country, maxPlaces) {
		c := placeChoice{p.String(), degrees(p.Latitude) + "," + degrees(p.Longitude)}
		card.Found = append(card.Found, c)
		if at == "" {
			at = c.At
		}
	}
	card.Missing = at == ""
	latitude, longitude, ok := coordinates(at)
	if !ok {
		return true
	}
	for pointer, x := range map[string]float64{"/site/latitude": latitude, "/site/longitude": longitude} {
		form.Put(t.doc, pointer, x)
		delete(t.raw, pointer)
	}
	return true
}

func degrees(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// coordinates reads a placeChoice's At.
func coordinates(at string) (latitude, longitude float64, ok bool) {
	north, east, _ := strings.Cut(at, ",")
	latitude, err := strconv.ParseFloat(north, 64)
	if err != nil {
		return 0, 0, false
	}
	longitude, err = strconv.ParseFloat(east, 64)
	return latitude, longitude, err == nil
}

// findPlaces answers the place field's script: the places that begin with ?q.
func (p *pages) findPlaces(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeManage, "setup")
	if !ok {
		return
	}
	type found struct {
		Name      string  `json:"name"`
		Latitude  float64 `json:"latitude"`
		Longitude float64 `json:"longitude"`
	}
	out := []found{}
	for _, x := range places.Find(c.Query("q"), setup.Site.Country, maxPlaces) {
		out = append(out, found{x.String(), x.Latitude, x.Longitude})
	}
	c.JSON(http.StatusOK, gin.H{"places": out})
}
