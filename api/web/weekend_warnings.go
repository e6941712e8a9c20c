package web

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"hotday/api/web/say"
	"hotday/models"
)

// warningView is a warning as a sentence with its ways out.
type warningView struct {
	Index int
	Grade string // the class of its wedge
	Soon  string // how soon to act, in words
	Say   string
	Cause string
	Ways  []wayView
}

type wayView struct {
	Index  int
	Action string
	Effect string
}

var gradeOrder = []string{models.GradeActNow, models.GradeActToday, models.GradeNote}

// warningViews puts the gravest first, then in order of time. Index is the warning's place in the plan.
func warningViews(r models.PlanRequest, plan models.Plan) []warningView {
	var out []warningView
	loc := r.Site.Location()
	for _, grade := range gradeOrder {
		for i, w := range plan.Warnings {
			if w.Grade != grade {
				continue
			}
			v := warningOf(w, loc)
			v.Index = i
			for k, way := range w.WaysOut {
				v.Ways = append(v.Ways, wayView{k, way.Action, effect(w, way, r.Site.Currency)})
			}
			out = append(out, v)
		}
	}
	return out
}

// warningOf says a warning without its ways out. A cause that is the whole sentence already, with its time, stands alone.
func warningOf(w models.Warning, loc *time.Location) warningView {
	v := warningView{Grade: w.Grade, Soon: say.Grade(w.Grade), Say: say.Sentence(w, loc) + ".", Cause: w.Cause}
	if !w.At.IsZero() && strings.HasPrefix(w.Cause, w.At.In(loc).Format("Monday")) {
		v.Say, v.Cause = w.Cause, ""
	}
	return v
}

// effect says what a way out changes: "chance 38 % → 6 %, 6.0 kg → 0.4 kg, 12.40 EUR more".
func effect(w models.Warning, way models.WayOut, currency string) string {
	s := ""
	if w.ChancePct > 0 {
		s = "chance " + say.Pct(w.ChancePct) + " → " + say.Pct(way.Effect.ChancePct)
	}
	if w.Amount > 0 {
		if s != "" {
			s += ", "
		}
		s += say.Amount(w.Amount, w.Unit) + " → " + say.Amount(way.Effect.Amount, w.Unit)
	}
	if s != "" {
		s += ", "
	}
	return s + costMore(way.Cost, currency)
}

func costMore(minor float64, currency string) string {
	switch {
	case minor >= 0.5:
		return say.Money(minor, currency) + " more"
	case minor <= -0.5:
		return say.Money(-minor, currency) + " less"
	}
	return "at the same cost"
}

// demandDay is the expected servings of a day, a row a drink, a cell a day part.
type demandDay struct {
	Date  models.Date
	Name  string
	Parts []models.DayPart
	Rows  []demandRow
}

type demandRow struct {
	Drink, Name string
	Cells       []demandCell
}

type demandCell struct {
	Part, Drink string
	ID          string
	Label       string // for a screen reader
	Asked       bool   // the plan reckons with it
	Value       string
	Range       string
	Prepare     string
	Forecast    string // where the manager's word stands instead of it
	Word        bool   // the manager's
	Basis       string
}

// demandDays lays the plan's demand out with what the manager's word and the forecast say beside each other.
func demandDays(r models.PlanRequest, plan models.Plan, words []models.ExpectedDemand) []demandDay {
	var out []demandDay
	cells := 0
	for n := range plan.Days {
		d := plan.From.AddDays(n)
		day := demandDay{Date: d, Name: say.Day(d.At(720, r.Site.Location()), r.Site.Location())}
		for _, part := range r.Site.DayParts {
			if slices.ContainsFunc(plan.Demand, func(x models.DemandRange) bool { return x.Date == d && x.DayPart == part.Code }) {
				day.Parts = append(day.Parts, part)
			}
		}
		for _, drink := range r.Drinks {
			row := demandRow{Drink: drink.Code, Name: nameOr(drink.Name, drink.Code)}
			for _, part := range day.Parts {
				cells++
				cell := demandCellOf(r, plan, words, d, part.Code, row.Name, drink.Code)
				cell.ID = "e-" + strconv.Itoa(cells) // a code may hold what an id may not
				row.Cells = append(row.Cells, cell)
			}
			if len(row.Cells) > 0 {
				day.Rows = append(day.Rows, row)
			}
		}
		if len(day.Rows) > 0 {
			out = append(out, day)
		}
	}
	return out
}

func demandCellOf(r models.PlanRequest, plan models.Plan, words []models.ExpectedDemand, d models.Date, part, name, drink string) demandCell {
	c := demandCell{Part: part, Drink: drink,
		Label: name + ", " + d.Weekday().String() + " " + part}
	for _, x := range plan.Demand {
		if x.Date == d && x.DayPart == part && x.Drink == drink {
			c.Asked, c.Basis = true, x.Basis
			c.Value = strconv.FormatFloat(round(x.P50), 'f', -1, 64)
			c.Range = say.Number(x.P10, 0) + "–" + say.Number(x.P90, 0)
			c.Prepare = say.Number(math.Ceil(x.Prepare-1e-9), 0)
		}
	}
	for _, w := range words {
		if w.Date == d && w.DayPart == part && w.Drink == drink && w.Expected != nil {
			c.Word = true
			c.Value = strconv.FormatFloat(*w.Expected, 'f', -1, 64)
		}
	}
	for _, f := range r.Forecast {
		if f.Date == d && f.DayPart == part && f.Drink == drink && c.Word {
			c.Forecast = say.Servings(f.Mean)
		}
	}
	return c
}

// round keeps a tenth below ten.
func round(x float64) float64 {
	if x < 10 {
		return float64(int(x*10+0.5)) / 10
	}
	return float64(int(x + 0.5))
}

func nameOr(name, code string) string {
	if name != "" {
		return name
	}
	return code
}
