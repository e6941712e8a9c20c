package web

import (
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"hotday/api/web/picture"
	"hotday/api/web/say"
	"hotday/models"

	"hotday/planner/demand"
	"hotday/planner/facts"
)

// demandDay is the expected servings of a day, a row a drink, a cell a day part.
type demandDay struct {
	Date    models.Date
	Name    string
	Weekday string
	Parts   []models.DayPart
	Rows    []demandRow
}

type demandRow struct {
	Drink, Name string
	Cells       []demandCell
}

// demandCell is a drink in a day part: what the plan reckons with, and what it rests on. The forecast and the manager's word
// stand beside each other and are never mixed.
type demandCell struct {
	Part, Drink string
	ID          string
	Label       string // for a screen reader
	Asked       bool   // the plan reckons with it
	Value       string
	Word        bool // the value is the manager's
	Range       string
	Prepare     string
	Forecast    string // "34, 20–51"; empty: there is none
	Stated      string // the manager's word, "60, 45–80"; empty: none
	Days        string // the days before, newest first
	Basis       string
	Strip       template.HTML

	strip picture.Strip
}

// byClock is a day part with its times by the clock of the site.
func byClock(p models.DayPart, q voice) models.DayPart {
	p.From, p.To = models.Clock(q.SetClock(p.From)), models.Clock(q.SetClock(p.To))
	return p
}

// rowKey names a row of demand.
type rowKey struct {
	date        models.Date
	part, drink string
}

// demandRows is all that a day's cells are made of, by row.
type demandRows struct {
	r     models.PlanRequest
	plan  map[rowKey]models.DemandRange
	words map[rowKey]models.ExpectedDemand
	casts map[rowKey]models.Forecast
	past  map[facts.ComparedRow][]facts.ComparableDay
}

func newDemandRows(st weekendState) demandRows {
	d := demandRows{r: st.request, plan: map[rowKey]models.DemandRange{}, words: map[rowKey]models.ExpectedDemand{}, casts: map[rowKey]models.Forecast{}, past: st.past}
	for _, x := range st.plan.Demand {
		d.plan[rowKey{x.Date, x.DayPart, x.Drink}] = x
	}
	for _, w := range st.words {
		if w.Expected != nil {
			d.words[rowKey{w.Date, w.DayPart, w.Drink}] = w
		}
	}
	for _, f := range st.request.Forecast {
		d.casts[rowKey{f.Date, f.DayPart, f.Drink}] = f
	}
	return d
}

// demandDays lays the plan's demand out by day.
func demandDays(st weekendState) []demandDay {
	rows := newDemandRows(st)
	q := voiceOf(rows.r.Site)
	var out []demandDay
	cells := 0
	for n := range st.plan.Days {
		d := st.plan.From.AddDays(n)
		day := demandDay{Date: d, Name: q.Day(d.At(720, q.Location())), Weekday: q.Weekday(d.At(720, q.Location()))}
		for _, part := range rows.r.Site.DayParts {
			if slices.ContainsFunc(st.plan.Demand, func(x models.DemandRange) bool { return x.Date == d && x.DayPart == part.Code }) {
				day.Parts = append(day.Parts, byClock(part, q))
			}
		}
		for _, drink := range rows.r.Drinks {
			row := demandRow{Drink: drink.Code, Name: nameOr(drink.Name, drink.Code)}
			for _, part := range day.Parts {
				cells++
				row.Cells = append(row.Cells, rows.cell(rowKey{d, part.Code, drink.Code}, row.Name, "e-"+strconv.Itoa(cells))) // a code may hold what an id may not
			}
			if len(row.Cells) > 0 {
				day.Rows = append(day.Rows, row)
			}
		}
		if len(day.Rows) > 0 {
			out = append(out, day)
		}
	}
	drawStrips(out)
	return out
}

func (d demandRows) cell(k rowKey, name, id string) demandCell {
	c := demandCell{ID: id, Part: k.part, Drink: k.drink, Label: name + ", " + k.date.Weekday().String() + " " + k.part}
	x, asked := d.plan[k]
	if asked {
		c.Asked, c.Basis = true, x.Basis
		c.Value = strconv.FormatFloat(round(x.P50), 'f', -1, 64)
		c.Range = ends(x.P10, x.P90)
		c.Prepare = say.Number(math.Ceil(x.Prepare-1e-9), 0)
	}
	cast, forecast := d.casts[k]
	w, word := d.words[k]
	c.Word = word
	switch {
	case forecast && (word || !asked || d.stated(k)): // the plan's range is of the word, the forecast has its own
		f := demand.FromForecast(cast)
		c.strip.Range, c.strip.P10, c.strip.P50, c.strip.P90 = true, f.P10(), f.P50(), f.P90()
		c.Basis = joined(cast.Basis, c.Basis)
	case asked && !d.stated(k): // as the day so far has moved it
		c.strip.Range, c.strip.P10, c.strip.P50, c.strip.P90 = true, x.P10, x.P50, x.P90
	}
	if c.strip.Range {
		c.Forecast = say.Servings(c.strip.P50) + ", " + ends(c.strip.P10, c.strip.P90)
	}
	if word {
		c.Value = strconv.FormatFloat(*w.Expected, 'f', -1, 64)
		c.Stated = say.Servings(*w.Expected)
		c.strip.Word, c.strip.WordLow, c.strip.WordHigh = w.Expected, w.P10, w.P90
		if w.P10 != nil && w.P90 != nil {
			c.Stated += ", " + ends(*w.P10, *w.P90)
		}
		if w.Note != "" {
			c.Stated += " (" + w.Note + ")"
		}
	}
	var days []string
	for _, p := range d.past[facts.ComparedRow{Weekday: k.date.Weekday(), DayPart: k.part, Drink: k.drink}] {
		c.strip.Past = append(c.strip.Past, p.Count)
		days = append(days, pastWords(p, voiceOf(d.r.Site)))
	}
	c.Days = strings.Join(days, "; ")
	return c
}

// firstDays asks for the manager's word on days of which nothing is known yet: a cell for each drink and day part that is open.
func firstDays(setup models.Setup, words []models.ExpectedDemand, from models.Date, days int) []demandDay {
	rows := demandRows{words: map[rowKey]models.ExpectedDemand{}}
	for _, w := range words {
		if w.Expected != nil {
			rows.words[rowKey{w.Date, w.DayPart, w.Drink}] = w
		}
	}
	q := voiceOf(setup.Site)
	var out []demandDay
	cells := 0
	for n := range days {
		d := from.AddDays(n)
		noon := d.At(720, q.Location())
		day := demandDay{Date: d, Name: q.Day(noon), Weekday: q.Weekday(noon)}
		for _, part := range setup.Site.DayParts {
			if span := setup.Site.PartSpan(d, part); slices.ContainsFunc(setup.Site.OpenSpans(d), func(o models.Span) bool { return o.From.Before(span.To) && span.From.Before(o.To) }) {
				day.Parts = append(day.Parts, byClock(part, q))
			}
		}
		for _, drink := range setup.Drinks {
			row := demandRow{Drink: drink.Code, Name: nameOr(drink.Name, drink.Code)}
			for _, part := range day.Parts {
				cells++
				row.Cells = append(row.Cells, rows.cell(rowKey{d, part.Code, drink.Code}, row.Name, "e-"+strconv.Itoa(cells)))
			}
			day.Rows = append(day.Rows, row)
		}
		if len(day.Parts) > 0 {
			out = append(out, day)
		}
	}
	return out
}

// stated says that the plan was made with the manager's word for this row.
func (d demandRows) stated(k rowKey) bool {
	return slices.ContainsFunc(d.r.Demand, func(x models.Demand) bool { return x.Date == k.date && x.DayPart == k.part && x.Drink == k.drink })
}

func ends(low, high float64) string { return say.Number(low, 0) + "–" + say.Number(high, 0) }

func joined(a, b string) string {
	if a == "" || b == "" || a == b {
		return a + b
	}
	return a + ". The plan: " + b
}

// pastWords says a day before: "4 Jul: 34 at 29 °C (street fair)".
func pastWords(p facts.ComparableDay, q voice) string {
	key, temp := "weekend.past", ""
	if p.TempC != nil {
		key, temp = "weekend.past_at", q.Temp(math.Round(*p.TempC))
	}
	s := q.Say(key, "day", q.ShortDay(p.Date.At(720, q.Location())), "n", say.Servings(p.Count), "temp", temp)
	if len(p.Events) > 0 {
		s += " (" + strings.Join(p.Events, ", ") + ")"
	}
	return s
}

// drawStrips draws all strips of a drink to one scale, so that its day parts and days compare.
func drawStrips(days []demandDay) {
	most := map[string]float64{}
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
		far := append([]float64{most[c.Drink], c.strip.P90}, c.strip.Past...)
		for _, p := range []*float64{c.strip.Word, c.strip.WordHigh} {
			if p != nil {
				far = append(far, *p)
			}
		}
		most[c.Drink] = slices.Max(far)
	})
	each(func(c *demandCell) {
		c.strip.Most = most[c.Drink]
		if c.Asked && (c.strip.Range || c.strip.Word != nil || len(c.strip.Past) > 0) {
			c.Strip = c.strip.Draw()
		}
	})
}

// round keeps a tenth below ten.
func round(x float64) float64 {
	if x < 10 {
		return float64(int(x*10+0.5)) / 10
	}
	return float64(int(x + 0.5))
}
