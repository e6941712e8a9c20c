package weather

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"hotday/models"
)

// nws is the US National Weather Service's API: a place's grid cell is asked for once, then its hourly forecast, which reaches about a
// week.
type nws struct{ base string }

// nwsPoint is the part that is read of points/{latitude},{longitude} (weather.gov/documentation/services-web-api).
type nwsPoint struct {
	Properties struct {
		ForecastHourly string `json:"forecastHourly"`
	} `json:"properties"`
}

// nwsForecast is the part that is read of gridpoints/{office}/{x},{y}/forecast/hourly.
type nwsForecast struct {
	Properties struct {
		UpdateTime time.Time `json:"updateTime"`
		Periods    []struct {
			StartTime       time.Time `json:"startTime"`
			Temperature     *float64  `json:"temperature"`
			TemperatureUnit string    `json:"temperatureUnit"` // F or C
			Humidity        struct {
				Value *float64 `json:"value"` // %
			} `json:"relativeHumidity"`
		} `json:"periods"`
	} `json:"properties"`
}

func (s nws) fetch(ctx context.Context, a *ask) (models.WeatherPost, error) {
	if a.state.Forecast == "" {
		body, err := a.get(ctx, a.c.Public, s.base+"/points/"+coordinate(a.site.Latitude)+","+coordinate(a.site.Longitude), false)
		if err != nil {
			return models.WeatherPost{}, err
		}
		var p nwsPoint
		if json.Unmarshal(body, &p) != nil || !sameHost(p.Properties.ForecastHourly, s.base) {
			return models.WeatherPost{}, errUnreadable
		}
		a.state.Forecast = p.Properties.ForecastHourly
	}
	body, err := a.get(ctx, a.c.Public, a.state.Forecast, true)
	if err != nil {
		if f := (*failure)(nil); errors.As(err, &f) && f.problem == models.FetchNoForecast {
			a.state.Forecast = "" // grid cells are renumbered now and then
		}
		return models.WeatherPost{}, err
	}
	var f nwsForecast
	if json.Unmarshal(body, &f) != nil {
		return models.WeatherPost{}, errUnreadable
	}
	var hours []models.WeatherHour
	for _, p := range f.Properties.Periods {
		if p.Temperature == nil {
			continue
		}
		h := models.WeatherHour{At: p.StartTime.UTC(), TempC: *p.Temperature, HumidityPct: p.Humidity.Value}
		switch p.TemperatureUnit {
		case "F":
			h.TempC = tenth((h.TempC - 32) / 1.8)
		case "C":
		default:
			return models.WeatherPost{}, errUnreadable
		}
		hours = append(hours, h)
	}
	return a.forecast(f.Properties.UpdateTime, hours)
}
