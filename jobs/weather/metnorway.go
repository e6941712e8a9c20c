package weather

import (
	"context"
	"encoding/json"
	"math"
	"net/url"
	"strconv"
	"time"

	"hotday/models"
)

// metNorway is MET Norway's Locationforecast 2.0, compact: hourly for two or three days, then every six hours up to the tenth. The hours
// between are interpolated, which cuts the afternoon's peak of those later days by up to a degree or two.
type metNorway struct{ base string }

// metForecast is the part of the format that is read (api.met.no/doc/ForecastJSON).
type metForecast struct {
	Properties struct {
		Meta struct {
			UpdatedAt time.Time `json:"updated_at"`
			Units     struct {
				Temperature string `json:"air_temperature"`
			} `json:"units"`
		} `json:"meta"`
		Timeseries []struct {
			Time time.Time `json:"time"`
			Data struct {
				Instant struct {
					Details struct {
						TempC    *float64 `json:"air_temperature"`
						Humidity *float64 `json:"relative_humidity"`
					} `json:"details"`
				} `json:"instant"`
				Next1 metPeriod `json:"next_1_hours"`
				Next6 metPeriod `json:"next_6_hours"`
			} `json:"data"`
		} `json:"timeseries"`
	} `json:"properties"`
}

type metPeriod struct {
	Details struct {
		RainMM *float64 `json:"precipitation_amount"`
	} `json:"details"`
}

func (m metNorway) fetch(ctx context.Context, a *ask) (models.WeatherPost, error) {
	q := url.Values{"lat": {coordinate(a.site.Latitude)}, "lon": {coordinate(a.site.Longitude)}}
	if a.site.AltitudeM > 0 { // 0: probably nobody has entered it, and the service knows the ground's
		q.Set("altitude", strconv.Itoa(int(math.Round(a.site.AltitudeM))))
	}
	body, err := a.get(ctx, a.c.Public, m.base+"/weatherapi/locationforecast/2.0/compact?"+q.Encode(), true)
	if err != nil {
		return models.WeatherPost{}, err
	}
	var f metForecast
	if json.Unmarshal(body, &f) != nil || f.Properties.Meta.Units.Temperature != "celsius" {
		return models.WeatherPost{}, errUnreadable
	}
	var steps []step
	for _, t := range f.Properties.Timeseries {
		d := t.Data.Instant.Details
		if d.TempC == nil {
			continue
		}
		s := step{at: t.Time, tempC: *d.TempC, humidityPct: d.Humidity, rainMM: t.Data.Next1.Details.RainMM, rainH: 1}
		if s.rainMM == nil {
			s.rainMM, s.rainH = t.Data.Next6.Details.RainMM, 6
		}
		steps = append(steps, s)
	}
	return a.forecast(f.Properties.Meta.UpdatedAt, hourly(steps))
}
