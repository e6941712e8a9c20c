package replay

import (
	"context"
	"fmt"
	"math"
	"slices"

	"hotday/models"
	"hotday/planner/demand/forecast"
)

// row is a drink in a day part: what is counted, forecast and prepared for.
type row struct {
	part, drink int
	series      forecast.SeriesKey
}

// rows are those of drinks and day parts in which the shop serves on some weekday.
func (s *Season) rows() []row {
	var out []row
	for p := range s.Site.DayParts {
		for d := range s.Drinks {
			out = append(out, row{p, d, forecast.SeriesKey{DayPart: s.Site.DayParts[p].Code, Drink: s.Drinks[d].Code}})
		}
	}
	return out
}

// serves reports whether the shop serves in a part on a day.
func (s *Season) serves(d *Day, part int) bool {
	if !s.open(d) {
		return false
	}
	span := s.Site.PartSpan(d.Date, s.Site.DayParts[part])
	return slices.ContainsFunc(s.Site.OpenSpans(d.Date), func(o models.Span) bool { return !o.Overlap(span).Empty() })
}

// demandOf are the servings asked for by row on a day; NaN where nothing is known of it.
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

// ahead is a row of a day as the forecast sees it.
func (s *Season) ahead(d *Day, w *Weather, r row) forecast.Ahead {
	temp, humidity := w.within(s.Site.PartSpan(d.Date, s.Site.DayParts[r.part]))
	return forecast.Ahead{SeriesKey: r.series, Date: d.Date, Open: s.serves(d, r.part), Holiday: d.Holiday, TempC: temp, RainMM: w.RainMM, Humidity: humidity,
		OpenShare: s.openShare(d, r.part)}
}

// openShare is the part of its usual minutes that a day part is open on a day of other hours; nil on any other.
func (s *Season) openShare(d *Day, part int) *float64 {
	span := s.Site.PartSpan(d.Date, s.Site.DayParts[part])
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

// known is what the shop has learnt so far: the days before the one that is planned, and nothing else.
type known struct {
	s     *Season
	rows  []row
	past  []forecast.Past
	days  []Day       // seen
	seen  [][]float64 // servings by day and row
	state *forecast.State
}

// see adds a day that is over.
func (k *known) see(d *Day) {
	asked := k.s.demandOf(d, k.rows)
	for i, r := range k.rows {
		p := forecast.Past{Ahead: k.s.ahead(d, &d.Weather, r)}
		if x := asked[i]; math.IsNaN(x) {
			p.Open = false
		} else {
			p.Demand = &x
		}
		k.past = append(k.past, p)
	}
	k.days, k.seen = append(k.days, *d), append(k.seen, asked)
}

// levels are those of the ranges that the plan is made from.
var levels = []float64{.05, .1, .25, .5, .75, .9, .95}

// Where 10 %, the median and 90 % stand in levels.
const at10, at50, at90 = 1, 3, 5

// forecast learns from what was seen since it was last asked, and forecasts the days: a row for each of them and each of the rows.
func (k *known) forecast(ctx context.Context, days []Day) ([][]forecast.Day, error) {
	var err error
	if k.state == nil {
		k.state, err = forecast.Fit(ctx, k.past)
	} else {
		k.state, err = k.state.Update(ctx, k.past)
	}
	if err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	var ask []forecast.Ahead
	for i := range days {
		for _, r := range k.rows {
			ask = append(ask, k.s.ahead(&days[i], outlook(days, i, k.s.Site.Location()), r))
		}
	}
	got := k.state.Ahead(ask, levels).Rows
	out := make([][]forecast.Day, len(days))
	for i := range days {
		out[i] = got[i*len(k.rows) : (i+1)*len(k.rows)]
	}
	return out, nil
}

// The usual par sheet.
const (
	parWeekdays = 4
	parHotC     = 28.0
	parHotter   = 1.2
)

// par is the usual par sheet for a day: the average of the last four same weekdays, a fifth more above 28 °C.
// The heat is what w says of the day.
func (k *known) par(d *Day, w *Weather) []float64 {
	sum, n := make([]float64, len(k.rows)), make([]float64, len(k.rows))
	for i := len(k.days) - 1; i >= 0; i-- {
		if k.days[i].Date.Weekday() != d.Date.Weekday() {
			continue
		}
		for r, x := range k.seen[i] {
			if !math.IsNaN(x) && n[r] < parWeekdays {
				sum[r], n[r] = sum[r]+x, n[r]+1
			}
		}
	}
	c, ok := w.warmest(d.Date, k.s.Site.Location())
	for r := range sum {
		if n[r] > 0 {
			sum[r] /= n[r]
		}
		if ok && c > parHotC {
			sum[r] *= parHotter
		}
	}
	return sum
}
