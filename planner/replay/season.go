package replay

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// Season is a shop and its days: the document of `hotday replay FILE`.
type Season struct {
	models.Setup
	Title string      `json:"title" opt:"true"` // printed above the table: the origin of the season, and which parts are invented
	From  models.Date `json:"from" opt:"true"`  // first day to replay, the days before are history; default: after five weeks
	Days  []Day       `json:"days" opt:"false" validate:"max=4000"`
}

// Day is one service day of the past. A missing date counts as closed.
type Day struct {
	Date        models.Date `json:"date"`
	Closed      bool        `json:"closed" default:"false"` // known beforehand
	Holiday     bool        `json:"holiday" default:"false"`
	HolidayName string      `json:"holiday_name,omitempty" opt:"true" validate:"max=400"`
	Weather     Weather     `json:"weather" opt:"true"` // actual
	Forecast    *Weather    `json:"forecast"`           // as of the evening before; default: the actual weather
	Counts      []Count     `json:"counts"`
}

// Weather is the weather of a day: maximum temperature in °C, rain in mm, relative humidity in %, and hours if known.
type Weather struct {
	TempC    *float64             `json:"temp_c"`
	RainMM   *float64             `json:"rain_mm"`
	Humidity *float64             `json:"humidity"`
	Hours    []models.WeatherHour `json:"hours"`
}

// Count is the demand for a drink in a day part, in servings. On an open day a missing row means that nothing was sold; OffSale
// means that demand is unknown.
type Count struct {
	DayPart string  `json:"day_part"`
	Drink   string  `json:"drink"`
	Count   float64 `json:"count" default:"0"`
	OffSale bool    `json:"off_sale" default:"false"`
}

// Limits of a season.
const (
	maxDays    = 4000
	maxCount   = 1e6
	warmUpDays = 35 // of history, unless the season or the options say when to start
)

// Parse decodes and validates a season document. It returns a CodeMalformed or CodeInvalid *models.Error.
func Parse(doc []byte) (Season, error) {
	var s Season
	if err := models.DecodeStrict(doc, &s); err != nil {
		return s, err
	}
	return s, s.Validate()
}

// Validate checks the set-up and every day, sorts the days, and inserts missing dates as closed days.
func (s *Season) Validate() error {
	if err := s.Setup.Validate(); err != nil {
		return err
	}
	e := &models.Error{Code: models.CodeInvalid, Message: "the season is not valid"}
	bad := func(pointer, accepted, format string, args ...any) {
		if len(e.Fields) < 50 {
			e.Fields = append(e.Fields, models.FieldError{Pointer: pointer, Accepted: accepted, Detail: fmt.Sprintf(format, args...)})
		}
	}
	if len(s.Days) == 0 {
		bad("/days", "at least one day", "there is none")
	}
	seen := map[models.Date]int{}
	for i := range s.Days {
		d := &s.Days[i]
		at := fmt.Sprintf("/days/%d", i)
		if first, twice := seen[d.Date]; twice {
			bad(at+"/date", "each date once", "says again what /days/%d says", first)
		}
		seen[d.Date] = i
		s.validateDay(d, at, bad)
	}
	if len(e.Fields) == 0 {
		if n := s.sortAndFill(); n > maxDays {
			bad("/days", fmt.Sprintf("at most %d days", maxDays), "the season spans %d", n)
		}
		if s.From != "" && (s.From < s.Days[0].Date || s.From > s.Days[len(s.Days)-1].Date) {
			bad("/from", "a day of the season", "%s is none", s.From)
		}
	}
	if len(e.Fields) > 0 {
		return e
	}
	return nil
}

func (s *Season) validateDay(d *Day, at string, bad func(pointer, accepted, format string, args ...any)) {
	parts, drinks := map[string]bool{}, map[string]bool{}
	for _, p := range s.Site.DayParts {
		parts[p.Code] = true
	}
	for _, x := range s.Drinks {
		drinks[x.Code] = true
	}
	seen := map[[2]string]bool{}
	for k, c := range d.Counts {
		at := fmt.Sprintf("%s/counts/%d", at, k)
		if !parts[c.DayPart] {
			bad(at+"/day_part", "the code of a day part", "there is no day part %q", c.DayPart)
		}
		if !drinks[c.Drink] {
			bad(at+"/drink", "the code of a drink", "there is no drink %q", c.Drink)
		}
		if !(c.Count >= 0 && c.Count <= maxCount) {
			bad(at+"/count", fmt.Sprintf("0 to %.0f", maxCount), "%g cannot be a count", c.Count)
		}
		if key := [2]string{c.DayPart, c.Drink}; seen[key] {
			bad(at, "one row for a day part and drink", "%s in %s stands twice", c.Drink, c.DayPart)
		} else {
			seen[key] = true
		}
	}
	d.Weather.validate(at+"/weather", bad)
	if d.Forecast != nil {
		d.Forecast.validate(at+"/forecast", bad)
	}
}

func (w *Weather) validate(at string, bad func(pointer, accepted, format string, args ...any)) {
	within := func(name string, x *float64, lo, hi float64) {
		if x != nil && !(*x >= lo && *x <= hi) {
			bad(at+"/"+name, fmt.Sprintf("%g to %g", lo, hi), "%g is out of range", *x)
		}
	}
	within("temp_c", w.TempC, -60, 60)
	within("rain_mm", w.RainMM, 0, 2000)
	within("humidity", w.Humidity, 0, 100)
	for i := range w.Hours {
		within(fmt.Sprintf("hours/%d/temp_c", i), &w.Hours[i].TempC, -60, 60)
	}
}

// sortAndFill sorts the days, inserts missing dates unless the season is too long, and returns the number of days that it spans.
func (s *Season) sortAndFill() int {
	slices.SortFunc(s.Days, func(a, b Day) int { return strings.Compare(string(a.Date), string(b.Date)) })
	n := s.Days[0].Date.DaysUntil(s.Days[len(s.Days)-1].Date) + 1
	if n == len(s.Days) || n > maxDays {
		return n
	}
	out := make([]Day, 0, n)
	for _, d := range s.Days {
		for len(out) > 0 && out[len(out)-1].Date.AddDays(1) < d.Date {
			out = append(out, Day{Date: out[len(out)-1].Date.AddDays(1), Closed: true})
		}
		out = append(out, d)
	}
	s.Days = out
	return n
}

// open reports whether the shop is open on the day.
func (s *Season) open(d *Day) bool { return !d.Closed && len(s.Site.OpenSpans(d.Date)) > 0 }

// forecastWeather is the weather of the day as forecast on the evening before.
func (d *Day) forecastWeather() *Weather {
	if d.Forecast != nil {
		return d.Forecast
	}
	return &d.Weather
}

// weatherAsForecast is the weather of days[k] as forecast on the evening before days[0]: the hours of that forecast if it reaches
// so far, else the day's own forecast.
func weatherAsForecast(days []Day, k int, loc *time.Location) *Weather {
	if k > 0 && days[0].Forecast != nil {
		w := &Weather{}
		for _, h := range days[0].Forecast.Hours {
			if models.DateOf(h.At, loc) == days[k].Date {
				w.Hours = append(w.Hours, h)
			}
		}
		if len(w.Hours) > 0 {
			return w
		}
	}
	return days[k].forecastWeather()
}

// maxTemp is the maximum temperature of the day in °C; ok is false if unknown.
func (w *Weather) maxTemp(d models.Date, loc *time.Location) (c float64, ok bool) {
	if w.TempC != nil {
		return *w.TempC, true
	}
	for _, h := range w.Hours {
		if models.DateOf(h.At, loc) == d && (!ok || h.TempC > c) {
			c, ok = h.TempC, true
		}
	}
	return c, ok
}

// over returns the maximum temperature and mean humidity of a span, those of the day where no hour is known.
func (w *Weather) over(span models.Span) (temp, humidity *float64) {
	sum, n := 0.0, 0.0
	for i := range w.Hours {
		h := &w.Hours[i]
		if (models.Span{From: h.At, To: h.At.Add(time.Hour)}).Overlap(span).Empty() {
			continue
		}
		if temp == nil || h.TempC > *temp {
			temp = &h.TempC
		}
		if h.HumidityPct != nil {
			sum, n = sum+*h.HumidityPct, n+1
		}
	}
	if n > 0 {
		m := sum / n
		humidity = &m
	}
	if temp == nil {
		temp = w.TempC
	}
	if humidity == nil {
		humidity = w.Humidity
	}
	return temp, humidity
}

// unknownTempC stands in for an unknown temperature, °C, as hot as the planner assumes.
const unknownTempC = 35.0

// hoursOf returns the hours of a date, 24 unless the clocks change. An hour without data has the temperature of the one before it
// that day, else that of the day.
func (w *Weather) hoursOf(d models.Date, loc *time.Location) []models.WeatherHour {
	base := unknownTempC
	if c, ok := w.maxTemp(d, loc); ok {
		base = c
	}
	known := map[int64]float64{}
	first := true
	for _, h := range w.Hours {
		known[h.At.Truncate(time.Hour).Unix()] = h.TempC
		if first && w.TempC == nil {
			base, first = h.TempC, false
		}
	}
	var out []models.WeatherHour
	end := d.AddDays(1).At(0, loc)
	for t := d.At(0, loc); t.Before(end); t = t.Add(time.Hour) {
		if c, ok := known[t.Truncate(time.Hour).Unix()]; ok {
			base = c
		}
		out = append(out, models.WeatherHour{At: t, TempC: base})
	}
	return out
}
