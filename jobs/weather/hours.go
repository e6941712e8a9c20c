package weather

import (
	"time"

	"hotday/models"
)

// step is a point of a forecast; rainMM falls within rainH hours from it.
type step struct {
	at          time.Time
	tempC       float64
	humidityPct *float64
	rainMM      *float64
	rainH       float64
}

// maxGap is the longest time between two steps that is filled in.
const maxGap = 6 * time.Hour

// hourly turns steps, in order of time, into hours: between them temperature and humidity run straight, and rain falls evenly.
func hourly(steps []step) (out []models.WeatherHour) {
	for i, s := range steps {
		end := s.at.Add(time.Hour)
		next := s
		if i+1 < len(steps) {
			next = steps[i+1]
			if gap := next.at.Sub(s.at); gap > 0 && gap <= maxGap {
				end = next.at
			}
		}
		for at := s.at; at.Before(end); at = at.Add(time.Hour) {
			part := 0.0
			if d := next.at.Sub(s.at); d > 0 {
				part = min(1, float64(at.Sub(s.at))/float64(d))
			}
			if at == s.at {
				part = 0
			}
			h := models.WeatherHour{At: at.UTC(), TempC: tenth(s.tempC + part*(next.tempC-s.tempC))}
			if s.humidityPct != nil && next.humidityPct != nil {
				h.HumidityPct = new(tenth(*s.humidityPct + part*(*next.humidityPct-*s.humidityPct)))
			}
			if s.rainMM != nil && at.Sub(s.at).Hours() < s.rainH {
				h.RainMM = new(*s.rainMM / s.rainH)
			}
			out = append(out, h)
		}
	}
	return out
}

// keptPast is how far back a forecast's hours are kept: the day's hottest may just be over.
const keptPast = 24 * time.Hour

// forecast returns the hours of a forecast, without those long past, or errUnreadable where none are left or one is not possible.
func (a *ask) forecast(issued time.Time, hours []models.WeatherHour) (models.WeatherPost, error) {
	post := models.WeatherPost{Kind: models.WeatherForecast, IssuedAt: issued.UTC()}
	for _, h := range hours {
		if h.At.After(a.now.Add(-keptPast)) {
			post.Hours = append(post.Hours, h)
		}
	}
	if len(post.Hours) == 0 || issued.IsZero() || post.Validate() != nil {
		return models.WeatherPost{}, errUnreadable
	}
	return post, nil
}
