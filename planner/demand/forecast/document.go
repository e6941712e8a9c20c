package forecast

import (
	"fmt"

	"hotday/models"
)

// Document is the input of a forecast: the history and the days ahead.
type Document struct {
	History []Past    `json:"history" opt:"false" validate:"max=500000"`
	Ahead   []Ahead   `json:"ahead" opt:"false" validate:"max=50000"`
	Levels  []float64 `json:"levels" opt:"false" validate:"max=99"`
}

// Ahead is a day to forecast. Temperature °C, rain mm, humidity %. OpenShare is the share of the usual selling time, 0.5 if the
// shop is open for half as long or the drink is sold out half of the day; default 1. Event names an event whose effect is learnt
// from days with the same event. HolidayName names the holiday, whose effect is learnt from its own days and those of others. Like
// names the series that stands in for this one while it has hardly a known day.
type Ahead struct {
	SeriesKey
	Date     models.Date `json:"date"`
	Open     bool        `json:"open"`
	Holiday  bool        `json:"holiday"`
	TempC    *float64    `json:"temp_c"`
	RainMM   *float64    `json:"rain_mm"`
	Humidity *float64    `json:"humidity"`

	OpenShare   *float64 `json:"open_share,omitempty"`
	Event       string   `json:"event,omitempty" opt:"true"`
	HolidayName string   `json:"holiday_name,omitempty" opt:"true"`
	Like        string   `json:"like,omitempty" opt:"true"`
}

// share is OpenShare, 1 if it is left out.
func (a *Ahead) share() float64 {
	if a.OpenShare == nil {
		return 1
	}
	return *a.OpenShare
}

// Past is a day of the history. The demand of a closed day is ignored.
type Past struct {
	Ahead
	Demand *float64 `json:"demand"` // required on an open day
}

// Day is the forecast of one day: its mean, and quantiles in the order of the levels, ≥ 0 and non-decreasing in the level.
type Day struct {
	SeriesKey
	Date      models.Date `json:"date"`
	Mean      float64     `json:"mean"`
	Quantiles []float64   `json:"quantiles"`
}

// Answer is the forecast, one row for each row of ahead in the same order, with zeros for closed days.
type Answer struct {
	Rows  []Day
	Notes []Note // problems in the history, and assumptions behind the ranges
}

// Limits of a document.
const (
	maxHistory    = 500_000
	maxAhead      = 50_000
	maxSeries     = 2_000
	maxSpanDays   = 20_000
	maxDemand     = 1e9
	maxAheadDays  = 800
	maxBehindDays = 28
	maxCells      = 2_000_000
	minOpenShare  = 0.01
	maxOpenShare  = 100.0
)

// Parse decodes and validates a document. It returns a CodeMalformed or CodeInvalid *models.Error.
func Parse(body []byte) (Document, error) {
	var d Document
	if err := models.DecodeStrict(body, &d); err != nil {
		return d, err
	}
	return d, d.Validate()
}

// Validate returns a CodeInvalid *models.Error with the JSON pointer of each invalid field, or nil.
func (d *Document) Validate() error {
	e := &models.Error{Code: models.CodeInvalid, Message: "the document is not valid"}
	bad := func(pointer, accepted, format string, args ...any) {
		if len(e.Fields) < 50 {
			e.Fields = append(e.Fields, models.FieldError{Pointer: pointer, Accepted: accepted, Detail: fmt.Sprintf(format, args...)})
		}
	}
	if len(d.Levels) == 0 || len(d.Levels) > 99 {
		bad("/levels", "1 to 99 levels between 0 and 1", "there are %d", len(d.Levels))
	}
	for i, l := range d.Levels {
		if !(l > 0 && l < 1) {
			bad(fmt.Sprintf("/levels/%d", i), "more than 0 and less than 1", "%g is no level", l)
		}
	}
	if len(d.History) > maxHistory {
		bad("/history", fmt.Sprintf("at most %d rows", maxHistory), "there are %d", len(d.History))
	}
	if len(d.Ahead) > maxAhead {
		bad("/ahead", fmt.Sprintf("at most %d rows", maxAhead), "there are %d", len(d.Ahead))
	}
	type day struct {
		series SeriesKey
		date   models.Date
	}
	seen := make(map[day]string, len(d.History)+len(d.Ahead))
	names := map[SeriesKey]bool{}
	check := func(at string, a Ahead) {
		if a.Drink == "" || len(a.Drink) > 200 {
			bad(at+"/series", "1 to 200 characters", "the series has no usable name")
		}
		names[a.SeriesKey] = true
		k := day{a.SeriesKey, a.Date}
		if first, twice := seen[k]; twice {
			bad(at, "one row for a series and date", "says again what %s says", first)
		} else {
			seen[k] = at
		}
		checkRange(bad, at+"/temp_c", a.TempC, -60, 60)
		checkRange(bad, at+"/rain_mm", a.RainMM, 0, 2000)
		checkRange(bad, at+"/humidity", a.Humidity, 0, 100)
		checkRange(bad, at+"/open_share", a.OpenShare, minOpenShare, maxOpenShare)
		if len(a.Event) > 400 {
			bad(at+"/event", "at most 400 characters", "the name is %d long", len(a.Event))
		}
		if len(a.Like) > 200 {
			bad(at+"/like", "at most 200 characters", "the name is %d long", len(a.Like))
		}
		if len(a.HolidayName) > 400 {
			bad(at+"/holiday_name", "at most 400 characters", "the name is %d long", len(a.HolidayName))
		}
	}
	for i := range d.History {
		at := fmt.Sprintf("/history/%d", i)
		check(at, d.History[i].Ahead)
		switch x := d.History[i].Demand; {
		case x == nil && d.History[i].Open:
			bad(at+"/demand", "0 to 1e9", "an open day of the past needs its demand")
		case x != nil && !(*x >= 0 && *x <= maxDemand):
			bad(at+"/demand", "0 to 1e9", "%g cannot be a demand", *x)
		}
	}
	for i := range d.Ahead {
		check(fmt.Sprintf("/ahead/%d", i), d.Ahead[i])
	}
	if len(names) > maxSeries {
		bad("/history", fmt.Sprintf("at most %d series", maxSeries), "there are %d", len(names))
	}
	d.validateSpan(bad, len(names))
	if len(e.Fields) > 0 {
		return e
	}
	return nil
}

// validateSpan limits the span of the history, and how far from its newest day a forecast may be.
func (d *Document) validateSpan(bad func(pointer, accepted, format string, args ...any), series int) {
	if len(d.History) == 0 {
		return
	}
	first, last := d.History[0].Date, d.History[0].Date
	for _, r := range d.History {
		first, last = min(first, r.Date), max(last, r.Date)
	}
	if first.DaysUntil(last) > maxSpanDays {
		bad("/history", fmt.Sprintf("rows within %d days", maxSpanDays), "the rows span %d days", first.DaysUntil(last))
	}
	if n := first.DaysUntil(last) + maxAheadDays; n*series > maxCells {
		bad("/history", fmt.Sprintf("at most %d series times days", maxCells), "there are %d series over %d days", series, n)
	}
	for i, r := range d.Ahead {
		if n := last.DaysUntil(r.Date); n > maxAheadDays || n < -maxBehindDays {
			bad(fmt.Sprintf("/ahead/%d/date", i), fmt.Sprintf("at most %d days after the newest day of the history, %s, and %d before", maxAheadDays, last, maxBehindDays), "%s is %d days from it", r.Date, n)
		}
	}
}

func checkRange(bad func(pointer, accepted, format string, args ...any), at string, x *float64, lo, hi float64) {
	if x != nil && !(*x >= lo && *x <= hi) {
		bad(at, fmt.Sprintf("%g to %g", lo, hi), "%g is out of range", *x)
	}
}
