package weather

import (
	"context"
	"encoding/json"
	"math"
	"net/url"
	"strconv"
	"strings"
	"time"

	"hotday/models"
)

// openMeteo is Open-Meteo's forecast interface: the free service, with a key that of its customers, or one that the operator runs.
type openMeteo struct {
	base, key string
	own       bool // the operator has set base
}

// meteoForecast is the part of the format that is read (open-meteo.com/en/docs). Times are Unix seconds, as asked for. Nulls are hours that
// the model does not reach.
type meteoForecast struct {
	Units struct {
		Temperature   string `json:"temperature_2m"`
		Precipitation string `json:"precipitation"`
	} `json:"hourly_units"`
	Hourly struct {
		Time          []int64    `json:"time"`
		Temperature   []*float64 `json:"temperature_2m"`
		Humidity      []*float64 `json:"relative_humidity_2m"`
		Precipitation []*float64 `json:"precipitation"` // of the hour before
	} `json:"hourly"`
}

func (m openMeteo) fetch(ctx context.Context, a *ask) (models.WeatherPost, error) {
	q := url.Values{"latitude": {coordinate(a.site.Latitude)}, "longitude": {coordinate(a.site.Longitude)},
		"hourly": {"temperature_2m,relative_humidity_2m,precipitation"}, "timeformat": {"unixtime"}, "forecast_days": {"15"}}
	if a.site.AltitudeM > 0 {
		q.Set("elevation", strconv.Itoa(int(math.Round(a.site.AltitudeM))))
	}
	if m.key != "" {
		q.Set("apikey", m.key)
	}
	client := a.c.Public
	if m.own && a.c.Private != nil {
		client = a.c.Private
	}
	body, err := a.get(ctx, client, strings.TrimSuffix(m.base, "/")+"/v1/forecast?"+q.Encode(), true)
	if err != nil {
		return models.WeatherPost{}, err
	}
	var f meteoForecast
	if json.Unmarshal(body, &f) != nil || f.Units.Temperature != "°C" {
		return models.WeatherPost{}, errUnreadable
	}
	h := f.Hourly
	n := len(h.Time)
	if len(h.Temperature) != n || len(h.Humidity) != n || len(h.Precipitation) != n {
		return models.WeatherPost{}, errUnreadable
	}
	var hours []models.WeatherHour
	for i, at := range h.Time {
		if h.Temperature[i] == nil {
			continue
		}
		w := models.WeatherHour{At: time.Unix(at, 0).UTC(), TempC: *h.Temperature[i], HumidityPct: h.Humidity[i]}
		if i+1 < n && f.Units.Precipitation == "mm" {
			w.RainMM = h.Precipitation[i+1]
		}
		hours = append(hours, w)
	}
	return a.forecast(a.now, hours) // the response does not say when it was computed
}
