package replay

import (
	"context"
	"fmt"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/demand/forecast"
)

// row is a drink in a day part, the unit of counts, forecasts and preparation.
type row struct {
	part, drink int
	series      forecast.SeriesKey
}

// rows are all combinations of day parts and drinks.
func (s *Season) rows() []row {
	var out []row
	for p := range s.Site.DayParts {
		for d := range s.Drinks {
			out = append(out, row{p, d, forecast.SeriesKey{DayPart: s.Site.DayParts[p].Code, Drink: s.Drinks[d].Code}})
		}
	}
	return out
}

// serves reports whether the shop is open in a part on a day.
func (s *Season) serves(d *Day, part int) bool {
	if !s.open(d) {
		return false
	}
	span := s.Site.DayPartSpan(d.Date, s.Site.DayParts[part])
	return slices.ContainsFunc(s.Site.OpenSpans(d.Date), func(o models.Span) bool { return !o.Overlap(span).Empty() })
}

// demandOf returns the servings asked for on a day by row, NaN where unknown.
func (s *Season) demandOf(d *Day, rows []row) []float64 {
	out := make([]float64, len(rows))
	by := map[[2]string]*Count{}
	for k := range d.Counts {
		by[[2]string{d.Counts[k].DayPart, d.Counts[k].Drink}] = &d.Counts[k]
	}
	for i, r := range rows {
		if !s.serves(d, r.part) {
			out[i] = math.NaN()
			continue
		}
		switch c := by[[2]string{s.Site.DayParts[r.part].Code, s.Drinks[r.drink].Code}]; {
		case c == nil:
		case c.OffSale:
			out[i] = math.NaN()
		default:
			out[i] = c.Count
		}
	}
	return out
}

// aheadRow is a row of a day as input of the forecast.
func (s *Season) aheadRow(d *Day, w *Weather, r row) forecast.Ahead {
	temp, humidity := w.over(s.Site.DayPartSpan(d.Date, s.Site.DayParts[r.part]))
	return forecast.Ahead{SeriesKey: r.series, Date: d.Date, Open: s.serves(d, r.part), Holiday: d.Holiday, HolidayName: d.HolidayName, TempC: temp, RainMM: w.RainMM, Humidity: humidity,
		OpenShare: s.openShare(d, r.part)}
}

// openShare is the ratio of a day part's open minutes on a day to the usual; nil if it is 1 or undefined.
func (s *Season) openShare(d *Day, part int) *float64 {
	span := s.Site.DayPartSpan(d.Date, s.Site.DayParts[part])
	minutes := func(spans []models.Span) (n float64) {
		for _, o := range spans {
			if x := o.Overlap(span); !x.Empty() {
				n += x.To.Sub(x.From).Minutes()
			}
		}
		return n
	}
	open, usual := minutes(s.Site.OpenSpans(d.Date)), minutes(s.Site.UsualSpans(d.Date))
	if open == usual || open == 0 || usual == 0 {
		return nil
	}
	share := open / usual
	return &share
}

// history is the days that are over, all that a forecast may use.
type history struct {
	s      *Season
	rows   []row
	past   []forecast.Past
	days   []Day       // past days
	demand [][]float64 // servings by day and row
	state  *forecast.State
}

// add appends a day that is over.
func (k *history) add(d *Day) {
	demand := k.s.demandOf(d, k.rows)
	for i, r := range k.rows {
		p := forecast.Past{Ahead: k.s.aheadRow(d, &d.Weather, r)}
		if x := demand[i]; math.IsNaN(x) {
			p.Open = false
		} else {
			p.Demand = &x
		}
		k.past = append(k.past, p)
	}
	k.days, k.demand = append(k.days, *d), append(k.demand, demand)
}

// levels are the quantile levels of the plan's forecast.
var levels = []float64{.05, .1, .25, .5, .75, .9, .95}

// Indexes of 10 %, 50 % and 90 % in levels.
const at10, at50, at90 = 1, 3, 5

// forecast updates the forecast with the days added since the last call, and forecasts days: by day and row.
func (k *history) forecast(ctx context.Context, days []Day) ([][]forecast.Day, error) {
	var err error
	if k.state == nil {
		k.state, err = forecast.Fit(ctx, k.past)
	} else {
		k.state, err = k.state.Update(ctx, k.past)
	}
	if err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	var rows []forecast.Ahead
	for i := range days {
		for _, r := range k.rows {
			rows = append(rows, k.s.aheadRow(&days[i], weatherAsForecast(days, i, k.s.Site.Location()), r))
		}
	}
	answer := k.state.Predict(rows, levels).Rows
	out := make([][]forecast.Day, len(days))
	for i := range days {
		out[i] = answer[i*len(k.rows) : (i+1)*len(k.rows)]
	}
	return out, nil
}

// correlation is that of the demand of a day's rows, as learnt by the forecast; nil: nothing has been learnt yet.
func (k *history) correlation() *models.DemandCorrelation {
	if k.state == nil {
		return nil
	}
	c := k.state.Together()
	if c.Days == 0 {
		return nil
	}
	return &models.DemandCorrelation{Day: c.Day, NextDay: c.Next}
}

// Rules of the usual par sheet.
const (
	parWeekdays  = 4
	parHotC      = 28.0
	parHotFactor = 1.2
)

// par is the usual par sheet of a day: the average of the last four same weekdays, plus 20 % above 28 °C according to w.
func (k *history) par(d *Day, w *Weather) []float64 {
	sum, n := make([]float64, len(k.rows)), make([]float64, len(k.rows))
	for i := len(k.days) - 1; i >= 0; i-- {
		if k.days[i].Date.Weekday() != d.Date.Weekday() {
			continue
		}
		for r, x := range k.demand[i] {
			if !math.IsNaN(x) && n[r] < parWeekdays {
				sum[r], n[r] = sum[r]+x, n[r]+1
			}
		}
	}
	c, ok := w.maxTemp(d.Date, k.s.Site.Location())
	for r := range sum {
		if n[r] > 0 {
			sum[r] /= n[r]
		}
		if ok && c > parHotC {
			sum[r] *= parHotFactor
		}
	}
	return sum
}
