package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"hotday/models"
)

// maxTemp is the day's maximum air temperature, °C, by days from the story's Saturday: a warming season with fronts, two hot
// spells, and the heat of the coming weekend.
func maxTemp(day int) float64 {
	coming := map[int]float64{-3: 29, -2: 31, -1: 33, 0: 35, 1: 36, 2: 33, 3: 30}
	if t, ok := coming[day]; ok {
		return t
	}
	x := float64(day)
	t := 29 + x*0.085 + 2.6*math.Sin(x/3.1) + 1.8*math.Sin(x/7.7+1)
	for _, spell := range []int{-28, -57} {
		t += 6 * math.Exp(-math.Pow(x-float64(spell), 2)/6)
	}
	r := rand.New(rand.NewPCG(uint64(int64(day)), 11))
	return tenth(t + 1.2*r.NormFloat64())
}

// tempAt is the air temperature, °C, at a minute of a day: lowest at 05:00, swing below the day's maximum, which is at 15:00.
func tempAt(day, minute int) float64 {
	const swing = 11.0
	h := float64(minute) / 60
	before, after := maxTemp(day), maxTemp(day)-swing // the night falls from one day's maximum to the next day's minimum
	switch {
	case h > 5 && h <= 15:
		return tenth(after + swing*(1-math.Cos(math.Pi*(h-5)/10))/2)
	case h > 15:
		after, h = maxTemp(day+1)-swing, h-15
	default:
		before, h = maxTemp(day-1), h+9
	}
	return tenth(after + (before-after)*(1+math.Cos(math.Pi*h/14))/2)
}

func tenth(x float64) float64 { return math.Round(10*x) / 10 }

// humidityAt is the relative humidity, %. It falls as the air warms, since the day's absolute humidity hardly changes.
func humidityAt(tempC float64) float64 { return math.Round(min(95, max(25, 118-2.3*tempC))) }

// Observed is the observed weather of the history, up to the last full hour.
func (s *Story) Observed() models.WeatherPost {
	from := s.firstDay().At(0, s.Setup.Site.Location())
	return s.weather(models.WeatherObserved, from, s.Now.Truncate(time.Hour).Add(time.Hour))
}

// ObservedFrom is the weather observed since an instant, up to the last full hour.
func (s *Story) ObservedFrom(from time.Time) models.WeatherPost {
	return s.weather(models.WeatherObserved, from.Truncate(time.Hour), s.Now.Truncate(time.Hour).Add(time.Hour))
}

// forecastDays is how far past the Saturday the forecast reaches: as far as the longest plan.
const forecastDays = 15

// Forecast is the weather forecast issued an hour ago.
func (s *Story) Forecast() models.WeatherPost {
	to := s.Saturday.AddDays(forecastDays).At(0, s.Setup.Site.Location())
	return s.weather(models.WeatherForecast, s.Now.Truncate(time.Hour), to)
}

func (s *Story) weather(kind string, from, to time.Time) models.WeatherPost {
	w := models.WeatherPost{Kind: kind, IssuedAt: s.Now.Add(-time.Hour).Truncate(time.Hour)}
	loc := s.Setup.Site.Location()
	for t := from; t.Before(to); t = t.Add(time.Hour) {
		local := t.In(loc)
		c := tempAt(s.day(models.DateOf(t, loc)), local.Hour()*60+local.Minute())
		h := humidityAt(c)
		w.Hours = append(w.Hours, models.WeatherHour{At: t.UTC(), TempC: c, HumidityPct: &h})
	}
	return w
}
