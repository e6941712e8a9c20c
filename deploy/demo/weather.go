package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"hotday/models"
)

// hottest is the day's highest air temperature, °C, by days from the story's Saturday: a season that warms, its fronts and two
// hot spells, and the heat that comes in for the weekend.
func hottest(day int) float64 {
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

// tempAt is the air at minute of a day: coldest at 05:00, swing below the coming top; warmest at 15:00.
func tempAt(day, minute int) float64 {
	const swing = 11.0
	h := float64(minute) / 60
	before, after := hottest(day), hottest(day)-swing // the night goes from the top of one day to the low of the next
	switch {
	case h > 5 && h <= 15:
		return tenth(after + swing*(1-math.Cos(math.Pi*(h-5)/10))/2)
	case h > 15:
		after, h = hottest(day+1)-swing, h-15
	default:
		before, h = hottest(day-1), h+9
	}
	return tenth(after + (before-after)*(1+math.Cos(math.Pi*h/14))/2)
}

func tenth(x float64) float64 { return math.Round(10*x) / 10 }

// humidityAt falls as the air warms: the day's moisture stays about the same.
func humidityAt(tempC float64) float64 { return math.Round(min(95, max(25, 118-2.3*tempC))) }

// Observed is the weather of the history, to the last full hour.
func (s *Story) Observed() models.WeatherPost {
	from := s.firstDay().At(0, s.Setup.Site.Location())
	return s.weather(models.WeatherObserved, from, s.Now.Truncate(time.Hour).Add(time.Hour))
}

// forecastDays is how far beyond the Saturday the forecast goes: as far as the longest plan.
const forecastDays = 15

// Forecast is the weather ahead as issued an hour ago.
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
