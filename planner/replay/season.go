package replay

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// Season is a shop and what came to it, day by day: the document of `hotday replay FILE`.
type Season struct {
	models.Setup
	Title string      `json:"title" opt:"true"` // said above the table: what the season is and what of it is invented
	From  models.Date `json:"from" opt:"true"`  // the first day to replay; before it the days only teach. Left out: after five weeks
	Days  []Day       `json:"days" opt:"false" validate:"max=4000"`
}

// Day is one service day of the past. A date that is left out counts as closed.
type Day struct {
	Date     models.Date `json:"date"`
	Closed   bool        `json:"closed" default:"false"` // known beforehand
	Holiday  bool        `json:"holiday" default:"false"`
	Weather  Weather     `json:"weather" opt:"true"` // that came
	Forecast *Weather    `json:"forecast"`           // as known on the evening before; left out: the weather that came
	Counts   []Count     `json:"counts"`
}

// Weather is the air of a day: the warmest of it, rain in mm, relative humidity in %, and hours where they are known.
type Weather struct {
	TempC    *float64             `json:"temp_c"`
	RainMM   *float64             `json:"rain_mm"`
	Humidity *float64             `json:"humidity"`
	Hours    []models.WeatherHour `json:"hours"`
}

// Count is the servings asked for of a drink in a day part. On an open day a drink and part without a row sold nothing; OffSale
// says that nothing is known of it.
type Count struct {
	DayPart string  `json:"day_part"`
	Drink   string  `json:"drink"`
	Count   float64 `json:"count" default:"0"`
	OffSale bool    `json:"off_sale" default:"false"`
}

// Limits of a season.
const (
	mostDays  = 4000
	mostCount = 1e6
	warmUp    = 35 // days that only teach, where nobody says from when on to replay
)

// Parse reads a season document. It returns a CodeMalformed or CodeInvalid *models.Error.
func Parse(doc []byte) (Season, error) {
	var s Season
	if err := models.DecodeStrict(doc, &s); err != nil {
		return s, err
	}
	return s, s.Validate()
}

// Validate checks the set-up and every day, and puts the days in order, with closed ones where dates are missing.
func (s *Season) Validate() error {
	if err := s.Setup.Validate(); err != nil {
		return err
	}
	e := &models.Error{Code: models.CodeInvalid, Message: "the season breaks a rule"}
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
		s.checkDay(d, at, bad)
	}
	if len(e.Fields) == 0 {
		if n := s.fill(); n > mostDays {
			bad("/days", fmt.Sprintf("at most %d days", mostDays), "the season spans %d", n)
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

func (s *Season) checkDay(d *Day, at string, bad func(pointer, accepted, format string, args ...any)) {
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
		if !(c.Count >= 0 && c.Count <= mostCount) {
			bad(at+"/count", fmt.Sprintf("0 to %.0f", mostCount), "%g cannot be a count", c.Count)
		}
		if key := [2]string{c.DayPart, c.Drink}; seen[key] {
			bad(at, "one row for a day part and drink", "%s in %s stands twice", c.Drink, c.DayPart)
		} else {
			seen[key] = true
		}
	}
	d.Weather.check(at+"/weather", bad)
	if d.Forecast != nil {
		d.Forecast.check(at+"/forecast", bad)
	}
}

func (w *Weather) check(at string, bad func(pointer, accepted, format string, args ...any)) {
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

// fill puts the days in order, closes the gaps between them where the season is not too long, and returns how many it spans.
func (s *Season) fill() int {
	slices.SortFunc(s.Days, func(a, b Day) int { return strings.Compare(string(a.Date), string(b.Date)) })
	n := s.Days[0].Date.DaysUntil(s.Days[len(s.Days)-1].Date) + 1
	if n == len(s.Days) || n > mostDays {
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

// open reports whether the shop served on the day.
func (s *Season) open(d *Day) bool { return !d.Closed && len(s.Site.OpenSpans(d.Date)) > 0 }

// ahead is the weather that the evening before knew of a day.
func (d *Day) ahead() *Weather {
	if d.Forecast != nil {
		return d.Forecast
	}
	return &d.Weather
}

// outlook is the weather of days[k] as the evening before days[0] knew it: from the hours that were forecast then where they reach
// so far, else the day's own forecast.
func outlook(days []Day, k int, loc *time.Location) *Weather {
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
	return days[k].ahead()
}

// warmest is the day's warmest air; ok is false where nothing is known.
func (w *Weather) warmest(d models.Date, loc *time.Location) (c float64, ok bool) {
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

// within is the warmest hour and the mean humidity of a span; where no hour is known the day's values.
func (w *Weather) within(span models.Span) (temp, humidity *float64) {
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

// unknownC is the air where nothing is known of it, °C: as hot as the planner assumes.
const unknownC = 35.0

// hoursOf are the 24 or so hours of a date: each its own value, or the newest known before it that day, or the day's.
func (w *Weather) hoursOf(d models.Date, loc *time.Location) []models.WeatherHour {
	base := unknownC
	if c, ok := w.warmest(d, loc); ok {
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
