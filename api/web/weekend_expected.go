package web

import (
	"cmp"
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// expectedAnswer tells the script what a change of a day's numbers has stored.
type expectedAnswer struct {
	Cells  []expectedCell          `json:"cells"`
	Totals []expectedCell          `json:"totals"`
	Before []models.ExpectedDemand `json:"before"` // to undo it
}

// expectedCell is a number of a drink, of a day part or, with Part "", of the day.
type expectedCell struct {
	Part  string `json:"part,omitempty"`
	Drink string `json:"drink"`
	Value string `json:"value"` // "": the manager has none, and there is no forecast
}

// mostExpected is the largest number of drinks in a day that can be entered.
const mostExpected = 1e6

// postExpected stores a day's expected drinks: form fields "date", "t/DRINK" with a day's number of a drink, which is split over the parts
// of the day, and "was/DRINK" with the number that the page showed; or "copy" with a day to copy. With "again" it orders a plan. A script
// gets the change as JSON, others see Weekend.
func (p *pages) postExpected(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "weekend")
	if !ok {
		return
	}
	date := models.Date(c.PostForm("date"))
	days, err := p.demandDaysWith(c.Request.Context(), setup, date)
	if err != nil {
		p.renderError(c, err)
		return
	}
	i := slices.IndexFunc(days, func(d demandDay) bool { return d.Date == date })
	if i < 0 {
		p.renderError(c, models.Errorf(models.CodeNotFound, "there is no such day"))
		return
	}
	day := &days[i]
	var rows []models.ExpectedDemand
	wrong := ""
	if from := c.PostForm("copy"); from != "" {
		if from == "source" { // chosen from a list
			from = c.PostForm("source")
		}
		if k := slices.IndexFunc(days, func(d demandDay) bool { return string(d.Date) == from }); k >= 0 {
			rows = day.copied(&days[k])
		}
	} else {
		rows, wrong = day.typed(c.Request.PostForm, h.voice)
	}
	if wrong != "" {
		p.renderWeekend(c, http.StatusUnprocessableEntity, h, setup, wrong)
		return
	}
	before := day.present(rows)
	if len(rows) > 0 {
		if err := p.SaveExpected(c, rows); err != nil {
			p.renderError(c, err)
			return
		}
	}
	switch {
	case c.GetHeader("Accept") == "application/json":
		if days, err = p.demandDaysWith(c.Request.Context(), setup, date); err != nil {
			p.renderError(c, err)
			return
		}
		c.JSON(http.StatusOK, days[i].answer(rows, before))
	case c.PostForm("again") != "":
		p.planAgain(c, setup.Site, date)
	default:
		c.Redirect(http.StatusSeeOther, "/s/"+url.PathEscape(setup.Site.Code)+"/weekend?day="+string(date)+"#asked")
	}
}

// demandDaysWith returns the days that Weekend shows with a day chosen.
func (p *pages) demandDaysWith(ctx context.Context, setup models.Setup, chosen models.Date) (days []demandDay, err error) {
	err = p.Store.Read(ctx, func(s models.Store) error {
		st, err := readWeekend(ctx, s, setup.Site, p.Now(), chosen)
		if err != nil {
			return err
		}
		if !st.hasPlan {
			days = emptyDemandDays(setup, st.expected, nextWeekend(setup.Site, p.Now()), firstPlanDays)
			return nil
		}
		days = demandDays(st)
		return nil
	})
	return days, err
}

// typed reads the day's numbers that differ from what the page showed; wrong is the first that is not a number of drinks. An empty one
// withdraws the manager's numbers.
func (d *demandDay) typed(form url.Values, v voice) (rows []models.ExpectedDemand, wrong string) {
	for i := range d.Rows {
		r := &d.Rows[i]
		if !form.Has("t/"+r.Drink) || form.Get("t/"+r.Drink) == form.Get("was/"+r.Drink) {
			continue
		}
		text := strings.Replace(strings.TrimSpace(form.Get("t/"+r.Drink)), ",", ".", 1)
		if text == "" {
			for _, c := range r.Cells {
				rows = append(rows, models.ExpectedDemand{Date: d.Date, DayPart: c.Part, Drink: r.Drink})
			}
			continue
		}
		n, err := strconv.ParseFloat(text, 64)
		if err != nil || !(n >= 0 && n <= mostExpected) {
			return nil, v.Say("weekend.script.no_number", "typed", form.Get("t/"+r.Drink))
		}
		rows = append(rows, d.split(r, n)...)
	}
	return rows, ""
}

// copied returns the numbers of another day as numbers of this one. Where their parts differ, the day's number is split as usual.
func (d *demandDay) copied(from *demandDay) (rows []models.ExpectedDemand) {
	for i := range d.Rows {
		r := &d.Rows[i]
		k := slices.IndexFunc(from.Rows, func(x demandRow) bool { return x.Drink == r.Drink })
		if k < 0 || from.Rows[k].Total == "" {
			continue
		}
		parts := func(cells []demandCell) (out []string) {
			for _, c := range cells {
				out = append(out, c.Part)
			}
			return out
		}
		if x := from.Rows[k].Cells; slices.Equal(parts(x), parts(r.Cells)) {
			for _, c := range x {
				n := c.number
				rows = append(rows, models.ExpectedDemand{Date: d.Date, DayPart: c.Part, Drink: r.Drink, Expected: &n})
			}
			continue
		}
		rows = append(rows, d.split(r, from.Rows[k].total())...)
	}
	return rows
}

// split splits a day's number of a drink over the parts of the day as they usually are: by the forecast, else by the present numbers, else
// by how long the parts are open.
func (d *demandDay) split(r *demandRow, total float64) (rows []models.ExpectedDemand) {
	for _, weightOf := range []func(c *demandCell) float64{
		func(c *demandCell) float64 { return c.strip.P50 },
		func(c *demandCell) float64 { return c.number },
		func(c *demandCell) float64 { return c.openH },
	} {
		var weights []float64
		for i := range r.Cells {
			weights = append(weights, weightOf(&r.Cells[i]))
		}
		if models.Sum(weights) == 0 {
			continue
		}
		for i, n := range splitWhole(total, weights) {
			if d.Planned && !r.Cells[i].InPlan && n == 0 {
				continue // it is not sold then
			}
			rows = append(rows, models.ExpectedDemand{Date: d.Date, DayPart: r.Cells[i].Part, Drink: r.Drink, Expected: &n})
		}
		return rows
	}
	return nil
}

// splitWhole splits a total by weights into whole numbers, or tenths where the total is not whole, that add up to it (largest remainders).
func splitWhole(total float64, weights []float64) []float64 {
	unit := 1.0
	if total != float64(int(total)) {
		unit = 10
	}
	left := int(total*unit + 0.5)
	sum, out, order := models.Sum(weights), make([]float64, len(weights)), make([]int, len(weights))
	rest := make([]float64, len(weights))
	for i, w := range weights {
		exact := total * unit * w / sum
		out[i], order[i] = float64(int(exact)), i
		rest[i] = exact - out[i]
		left -= int(exact)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rest[b], rest[a]) })
	for _, i := range order[:min(max(left, 0), len(order))] {
		out[i]++
	}
	for i := range out {
		out[i] /= unit
	}
	return out
}

// present returns the manager's present numbers in rows' places: what undoes them.
func (d *demandDay) present(rows []models.ExpectedDemand) []models.ExpectedDemand {
	out := []models.ExpectedDemand{}
	for _, x := range rows {
		was := models.ExpectedDemand{Date: x.Date, DayPart: x.DayPart, Drink: x.Drink}
		for i := range d.Rows {
			for k := range d.Rows[i].Cells {
				if c := &d.Rows[i].Cells[k]; c.Drink == x.Drink && c.Part == x.DayPart && c.manual != nil {
					was = *c.manual
				}
			}
		}
		out = append(out, was)
	}
	return out
}

// answer tells the script the numbers of the drinks in rows.
func (d *demandDay) answer(rows, before []models.ExpectedDemand) expectedAnswer {
	a := expectedAnswer{Cells: []expectedCell{}, Totals: []expectedCell{}, Before: before}
	for i := range d.Rows {
		r := &d.Rows[i]
		if !slices.ContainsFunc(rows, func(x models.ExpectedDemand) bool { return x.Drink == r.Drink }) {
			continue
		}
		a.Totals = append(a.Totals, expectedCell{Drink: r.Drink, Value: r.Total})
		for _, c := range r.Cells {
			a.Cells = append(a.Cells, expectedCell{Part: c.Part, Drink: r.Drink, Value: c.Value})
		}
	}
	return a
}

// addTotals adds each drink's number of the day, and the other days to copy from.
func addTotals(days []demandDay) {
	for i := range days {
		for k := range days[i].Rows {
			days[i].Rows[k].addTotal()
		}
		for k := range days {
			if k != i {
				days[i].Others = append(days[i].Others, otherDay{days[k].Date, days[k].Weekday})
			}
		}
	}
}

// dayForm is the form of a day's expected drinks.
type dayForm struct {
	head
	Day demandDay
}

// DayForm is for the template.
func (v weekendView) DayForm(d demandDay) dayForm { return dayForm{v.head, d} }

// otherDay is a day to copy from.
type otherDay struct {
	Date models.Date
	Name string
}

func (r *demandRow) total() float64 {
	n := 0.0
	for i := range r.Cells {
		n += r.Cells[i].number
	}
	return n
}

func (r *demandRow) addTotal() {
	forecast, prepare, any := 0.0, 0.0, false
	for i := range r.Cells {
		c := &r.Cells[i]
		any = any || c.Value != ""
		r.Manual = r.Manual || c.Manual
		forecast += c.strip.P50
		prepare += c.prepare
	}
	if any {
		r.Total = strconv.FormatFloat(roundServings(r.total()), 'f', -1, 64)
	}
	if forecast > 0 {
		r.Forecast = strconv.FormatFloat(roundServings(forecast), 'f', -1, 64)
	}
	if prepare > 0 {
		r.Prepare = strconv.FormatFloat(roundServings(prepare), 'f', -1, 64)
	}
}
