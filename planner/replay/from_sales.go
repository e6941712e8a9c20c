package replay

import (
	"iter"

	"hotday/models"
)

// Sale is servings of a drink sold evenly over a span.
type Sale struct {
	Drink    string
	Span     models.Span
	Servings float64
}

// FromSales makes a season from the sales and the weather of [from, to]. A sale counts in the day parts that its span overlaps,
// in proportion to time. The actual weather serves as its forecast.
func FromSales(setup models.Setup, from, to models.Date, sales iter.Seq[Sale], weather []models.WeatherHour) Season {
	s := Season{Setup: setup}
	loc := setup.Site.Location()
	n := from.DaysUntil(to) + 1
	place := make(map[models.Date]int, n)
	counts := make([]map[[2]string]float64, n)
	for i := range n {
		d := from.AddDays(i)
		place[d] = i
		counts[i] = map[[2]string]float64{}
		s.Days = append(s.Days, Day{Date: d})
	}
	for x := range sales {
		i, ok := place[setup.Site.ServiceDayOf(x.Span.From)]
		if !ok {
			continue
		}
		for _, p := range setup.Site.DayParts {
			if o := setup.Site.DayPartSpan(s.Days[i].Date, p).Overlap(x.Span); !o.Empty() {
				counts[i][[2]string{p.Code, x.Drink}] += x.Servings * float64(o.To.Sub(o.From)) / float64(x.Span.To.Sub(x.Span.From))
			}
		}
	}
	for i := range s.Days {
		for _, p := range setup.Site.DayParts {
			for _, x := range setup.Drinks {
				if c := counts[i][[2]string{p.Code, x.Code}]; c > 0 {
					s.Days[i].Counts = append(s.Days[i].Counts, Count{DayPart: p.Code, Drink: x.Code, Count: c})
				}
			}
		}
	}
	for _, h := range weather {
		if i, ok := place[models.DateOf(h.At, loc)]; ok {
			s.Days[i].Weather.Hours = append(s.Days[i].Weather.Hours, h)
		}
	}
	return s
}

// DayWeather summarises hours: maximum temperature, total rain, mean humidity.
func DayWeather(hours []models.WeatherHour) Weather {
	w := Weather{Hours: hours}
	var rain, humidity, wet float64
	known := false
	for i := range hours {
		h := &hours[i]
		if w.TempC == nil || h.TempC > *w.TempC {
			w.TempC = &h.TempC
		}
		if h.RainMM != nil {
			rain, known = rain+*h.RainMM, true
		}
		if h.HumidityPct != nil {
			humidity, wet = humidity+*h.HumidityPct, wet+1
		}
	}
	if known {
		w.RainMM = &rain
	}
	if wet > 0 {
		m := humidity / wet
		w.Humidity = &m
	}
	return w
}
