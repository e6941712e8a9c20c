package web

import (
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"hotday/api/web/picture"
	"hotday/models"
	"hotday/planner/say"

	"hotday/planner/demand"
	"hotday/planner/facts"
)

// demandDay is a day's expected servings, with a row per drink and a cell per day part.
type demandDay struct {
	Date    models.Date
	Name    string
	Weekday string
	Parts   []models.DayPart
	Rows    []demandRow
	Others  []otherDay // to copy from
	Planned bool
}

// demandRow is a drink, with its number of the day: the manager's if Manual. Forecast and Prepare are of the day too.
type demandRow struct {
	Drink, Name              string
	Cells                    []demandCell
	ID                       string
	Total, Forecast, Prepare string
	Manual                   bool
}

// demandCell is a drink in a day part. The forecast and the manager's number are shown side by side and never mixed.
type demandCell struct {
	Part, Drink string
	ID          string
	Label       string // for screen readers
	InPlan      bool   // the plan has a range for it
	Value       string
	Manual      bool // Value is the manager's number
	Range       string
	Prepare     string
	Forecast    string // "34, 20–51"; "": none
	ManualText  string // the manager's number, "60, 45–80"; "": none
	Days        string // comparable past days, newest first
	Basis       string
	Strip       template.HTML

	strip   picture.Strip
	number  float64                // Value
	prepare float64                // Prepare
	openH   float64                // how long the part is open
	manual  *models.ExpectedDemand // the manager's number as stored; nil: none
}

// withLocalClock formats the times of a day part with the site's clock.
func withLocalClock(p models.DayPart, q voice) models.DayPart {
	p.From, p.To = models.Clock(q.SetClock(p.From)), models.Clock(q.SetClock(p.To))
	return p
}

// rowKey identifies a demand row.
type rowKey struct {
	date        models.Date
	part, drink string
}

// demandRows is the data of the cells, by row.
type demandRows struct {
	r         models.PlanRequest
	plan      map[rowKey]models.DemandRange
	expected  map[rowKey]models.ExpectedDemand
	forecasts map[rowKey]models.Forecast
	past      map[facts.ComparedRow][]facts.ComparableDay
}

func newDemandRows(st weekendState) demandRows {
	d := demandRows{r: st.request, plan: map[rowKey]models.DemandRange{}, expected: map[rowKey]models.ExpectedDemand{}, forecasts: map[rowKey]models.Forecast{}, past: st.past}
	for _, x := range st.plan.Demand {
		d.plan[rowKey{x.Date, x.DayPart, x.Drink}] = x
	}
	for _, w := range st.expected {
		if w.Expected != nil {
			d.expected[rowKey{w.Date, w.DayPart, w.Drink}] = w
		}
	}
	for _, f := range st.request.Forecast {
		d.forecasts[rowKey{f.Date, f.DayPart, f.Drink}] = f
	}
	return d
}

// demandDays groups the plan's demand by day.
func demandDays(st weekendState) []demandDay {
	rows := newDemandRows(st)
	q := voiceOf(rows.r.Site)
	var out []demandDay
	cells := 0
	for n := range st.plan.Days {
		d := st.plan.From.AddDays(n)
		day := demandDay{Date: d, Name: q.Day(d.At(720, q.Location())), Weekday: q.Weekday(d.At(720, q.Location())), Planned: true}
		var parts []models.DayPart
		for _, part := range rows.r.Site.DayParts {
			if slices.ContainsFunc(st.plan.Demand, func(x models.DemandRange) bool { return x.Date == d && x.DayPart == part.Code }) {
				parts = append(parts, part)
			}
		}
		if rows.fill(&day, parts, q, &cells); len(day.Rows) > 0 {
			out = append(out, day)
		}
	}
	addTotals(out)
	drawStrips(out)
	return out
}

// fill gives a day its parts and a row per drink. cells counts the cells of all days.
func (d demandRows) fill(day *demandDay, parts []models.DayPart, q voice, cells *int) {
	if len(parts) == 0 {
		return
	}
	for _, part := range parts {
		day.Parts = append(day.Parts, withLocalClock(part, q))
	}
	for _, drink := range d.r.Drinks {
		row := demandRow{Drink: drink.Code, Name: nameOr(drink.Name, drink.Code), ID: "t-" + strconv.Itoa(*cells)}
		for _, part := range parts {
			*cells++
			cell := d.cell(q, rowKey{day.Date, part.Code, drink.Code}, row.Name, "e-"+strconv.Itoa(*cells)) // codes may contain characters that IDs must not
			span := d.r.Site.DayPartSpan(day.Date, part)
			cell.openH = span.To.Sub(span.From).Hours()
			row.Cells = append(row.Cells, cell)
		}
		day.Rows = append(day.Rows, row)
	}
}

func (d demandRows) cell(q voice, k rowKey, name, id string) demandCell {
	c := demandCell{ID: id, Part: k.part, Drink: k.drink, Label: name + ", " + q.DayName(k.date) + " " + k.part}
	x, asked := d.plan[k]
	if asked {
		c.InPlan, c.Basis = true, x.Basis
		c.number, c.prepare = roundServings(x.P50), math.Ceil(x.Prepare-1e-9)
		c.Value = strconv.FormatFloat(c.number, 'f', -1, 64)
		c.Range = rangeText(x.P10, x.P90)
		c.Prepare = say.Number(math.Ceil(x.Prepare-1e-9), 0)
	}
	forecast, hasForecast := d.forecasts[k]
	w, manual := d.expected[k]
	c.Manual = manual
	switch {
	case hasForecast && (manual || !asked || d.hasExpected(k)): // the plan's range is the manager's; show the forecast's own
		f := demand.FromForecast(forecast)
		c.strip.Range, c.strip.P10, c.strip.P50, c.strip.P90 = true, f.P10(), f.P50(), f.P90()
		c.Basis = joinBasis(forecast.Basis, c.Basis)
	case asked && !d.hasExpected(k): // the range as updated by today's sales
		c.strip.Range, c.strip.P10, c.strip.P50, c.strip.P90 = true, x.P10, x.P50, x.P90
	}
	if c.strip.Range {
		c.Forecast = q.Servings(c.strip.P50) + ", " + rangeText(c.strip.P10, c.strip.P90)
	}
	if manual {
		c.number, c.manual = *w.Expected, &w
		c.Value = strconv.FormatFloat(*w.Expected, 'f', -1, 64)
		c.ManualText = q.Servings(*w.Expected)
		c.strip.Manual, c.strip.ManualLow, c.strip.ManualHigh = w.Expected, w.P10, w.P90
		if w.P10 != nil && w.P90 != nil {
			c.ManualText += ", " + rangeText(*w.P10, *w.P90)
		}
		if w.Note != "" {
			c.ManualText += " (" + w.Note + ")"
		}
	}
	var days []string
	for _, p := range d.past[facts.ComparedRow{Weekday: k.date.Weekday(), DayPart: k.part, Drink: k.drink}] {
		c.strip.Past = append(c.strip.Past, p.Count)
		days = append(days, pastDayText(p, voiceOf(d.r.Site)))
	}
	c.Days = strings.Join(days, "; ")
	return c
}

// emptyDemandDays returns days without a plan, for the manager to fill in: a cell for each drink and open day part.
func emptyDemandDays(setup models.Setup, expected []models.ExpectedDemand, from models.Date, days int) []demandDay {
	rows := demandRows{r: models.PlanRequest{Setup: setup}, expected: map[rowKey]models.ExpectedDemand{}}
	for _, w := range expected {
		if w.Expected != nil {
			rows.expected[rowKey{w.Date, w.DayPart, w.Drink}] = w
		}
	}
	q := voiceOf(setup.Site)
	var out []demandDay
	cells := 0
	for n := range days {
		d := from.AddDays(n)
		noon := d.At(720, q.Location())
		day := demandDay{Date: d, Name: q.Day(noon), Weekday: q.Weekday(noon)}
		var parts []models.DayPart
		for _, part := range setup.Site.DayParts {
			if span := setup.Site.DayPartSpan(d, part); slices.ContainsFunc(setup.Site.OpenSpans(d), func(o models.Span) bool { return o.From.Before(span.To) && span.From.Before(o.To) }) {
				parts = append(parts, part)
			}
		}
		if rows.fill(&day, parts, q, &cells); len(day.Parts) > 0 {
			out = append(out, day)
		}
	}
	addTotals(out)
	return out
}

// hasExpected reports whether the plan was made with the manager's number for this row.
func (d demandRows) hasExpected(k rowKey) bool {
	return slices.ContainsFunc(d.r.Demand, func(x models.Demand) bool { return x.Date == k.date && x.DayPart == k.part && x.Drink == k.drink })
}

func rangeText(low, high float64) string { return say.Number(low, 0) + "–" + say.Number(high, 0) }

func joinBasis(a, b string) string {
	if a == "" || b == "" || a == b {
		return a + b
	}
	return a + ". The plan: " + b
}

// pastDayText formats a past day: "4 Jul: 34 at 29 °C (street fair)".
func pastDayText(p facts.ComparableDay, q voice) string {
	key, temp := "weekend.past", ""
	if p.TempC != nil {
		key, temp = "weekend.past_at", q.WholeTemp(*p.TempC)
	}
	s := q.Say(key, "day", q.ShortDate(p.Date.At(720, q.Location())), "n", q.Servings(p.Count), "temp", temp)
	if len(p.Events) > 0 {
		s += " (" + strings.Join(p.Events, ", ") + ")"
	}
	return s
}

// drawStrips draws all strips of a drink to the same scale, so that they can be compared.
func drawStrips(days []demandDay) {
	largest := map[string]float64{}
	each := func(do func(c *demandCell)) {
		for i := range days {
			for k := range days[i].Rows {
				for n := range days[i].Rows[k].Cells {
					do(&days[i].Rows[k].Cells[n])
				}
			}
		}
	}
	each(func(c *demandCell) {
		values := append([]float64{largest[c.Drink], c.strip.P90}, c.strip.Past...)
		for _, p := range []*float64{c.strip.Manual, c.strip.ManualHigh} {
			if p != nil {
				values = append(values, *p)
			}
		}
		largest[c.Drink] = slices.Max(values)
	})
	each(func(c *demandCell) {
		c.strip.Max = largest[c.Drink]
		if c.InPlan && (c.strip.Range || c.strip.Manual != nil || len(c.strip.Past) > 0) {
			c.Strip = c.strip.Draw()
		}
	})
}

// roundServings rounds to tenths below ten, else to whole servings.
func roundServings(x float64) float64 {
	if x < 10 {
		return float64(int(x*10+0.5)) / 10
	}
	return float64(int(x + 0.5))
}
