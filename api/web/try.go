package web

import (
	"encoding/json"
	"fmt"
	"html/template"
	"maps"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/api/web/say"
	"hotday/models"
)

// triedView is a plan with one way out beside the present one.
type triedView struct {
	Action  string
	Same    bool // nothing in the plan changes
	Numbers []comparison
	Pairs   []tidePair
	Changes []string
	More    int
	Take    string // the requests that make it so, as JSON for the script; empty: it has to be done by hand
	Keeps   string // what taking it changes for good
}

type comparison struct{ What, Now, Then string }

type tidePair struct{ Now, Then template.HTML }

// step is one request to the service that makes a part of a way out so.
type step struct {
	Method string          `json:"method"`
	Path   string          `json:"path"`
	Match  string          `json:"match,omitempty"` // If-Match
	Body   json.RawMessage `json:"body"`
}

// try computes the plan's request again with one way out and answers the two side by side, as a piece of the page.
func (p *pages) try(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeRead, "weekend")
	if !ok {
		return
	}
	ctx, site := c.Request.Context(), setup.Site.Code
	revision, _ := strconv.Atoi(c.PostForm("revision"))
	plan, request, err := p.Store.Plan(ctx, site, revision)
	if err != nil {
		p.fragmentTrouble(c, err)
		return
	}
	warning, way, err := wayOut(plan, c.PostForm("warning"), c.PostForm("way"))
	if err != nil {
		p.fragmentTrouble(c, err)
		return
	}
	changed, err := patched(request, way.Change)
	if err != nil {
		p.fragmentTrouble(c, err)
		return
	}
	then, err := p.Compute(ctx, changed)
	if err != nil {
		p.fragmentTrouble(c, err)
		return
	}
	v := compare(request, plan, changed, then, warning, way)
	for _, ch := range p.Changes(plan, then, request.Setup) {
		v.Changes = append(v.Changes, ch.Text)
	}
	if n := len(v.Changes); n > mostChanges {
		v.Changes, v.More = v.Changes[:mostChanges], n-mostChanges
	}
	v.Same = len(v.Changes) == 0
	stored, etag, err := p.Store.Setup(ctx, site)
	if err != nil {
		p.fragmentTrouble(c, err)
		return
	}
	steps, keeps, err := stepsFor(stored, etag, request, changed, way.Change, p.Now())
	if err != nil {
		p.fragmentTrouble(c, err)
		return
	}
	if len(steps) > 0 {
		b, err := json.Marshal(steps)
		if err != nil {
			p.fragmentTrouble(c, err)
			return
		}
		v.Take, v.Keeps = string(b), keeps
	}
	p.render(c, http.StatusOK, "tried", v)
}

// fragmentTrouble answers an error as a piece of the page.
func (p *pages) fragmentTrouble(c *gin.Context, err error) {
	problem := models.ProblemOf(err)
	if models.CodeOf(err) == models.CodeInternal && c.Request.Context().Err() == nil { // who left is no fault
		p.Log.Error("trying a way out failed", "path", c.Request.URL.Path, "err", err)
	}
	for _, f := range problem.Errors {
		problem.Detail += " " + f.Pointer + ": " + f.Detail + "."
	}
	p.render(c, models.CodeOf(err).Status(), "notried", problem)
}

func wayOut(plan models.Plan, warning, way string) (models.Warning, models.WayOut, error) {
	i, err1 := strconv.Atoi(warning)
	k, err2 := strconv.Atoi(way)
	if err1 != nil || err2 != nil || i < 0 || i >= len(plan.Warnings) || k < 0 || k >= len(plan.Warnings[i].WaysOut) {
		return models.Warning{}, models.WayOut{}, models.Errorf(models.CodeNotFound, "plan %d has no such way out", plan.Revision)
	}
	return plan.Warnings[i], plan.Warnings[i].WaysOut[k], nil
}

func compare(request models.PlanRequest, plan models.Plan, changed models.PlanRequest, then models.Plan, w models.Warning, way models.WayOut) triedView {
	v := triedView{Action: way.Action}
	q := voiceOf(request.Site)
	add := func(what, now, then string) { v.Numbers = append(v.Numbers, comparison{what, now, then}) }
	if w.ChancePct > 0 {
		add(q.Say("weekend.tried.chance_of_this"), say.Pct(w.ChancePct), say.Pct(way.Effect.ChancePct))
	}
	if w.Amount > 0 {
		add(q.Say("weekend.tried.how_much"), say.Amount(w.Amount, w.Unit, q.Writer), say.Amount(way.Effect.Amount, w.Unit, q.Writer))
	}
	add(q.Say("weekend.tried.things_to_act_on"), strconv.Itoa(toActOn(plan)), strconv.Itoa(toActOn(then)))
	add(q.Say("weekend.tried.batches"), strconv.Itoa(len(plan.Batches)), strconv.Itoa(len(then.Batches)))
	add(q.Say("weekend.tried.coffee_made"), q.Mass(plan.Summary.BeverageG), q.Mass(then.Summary.BeverageG))
	add(q.Say("weekend.tried.drink_ice_used"), q.Mass(plan.Summary.DrinkIceG), q.Mass(then.Summary.DrinkIceG))
	add(q.Say("weekend.tried.drink_ice_left"), q.Mass(plan.Ice.LeftG), q.Mass(then.Ice.LeftG))
	add(q.Say("weekend.tried.cost"), say.Money(plan.Cost.Total, request.Site.Currency), say.Money(then.Cost.Total, changed.Site.Currency))
	full := max(picture.FullOf(request, plan), picture.FullOf(changed, then))
	for _, f := range picture.Frames(request, plan, narrowDays, narrowWidth, true) {
		if sameTide(plan.Ice.Levels, then.Ice.Levels, models.Span{From: f.From, To: f.To}) {
			continue
		}
		v.Pairs = append(v.Pairs, tidePair{picture.Tide(request, plan, f, full), picture.Tide(changed, then, f, full)})
	}
	return v
}

// sameTide reports whether two plans' levels look the same in a span: nowhere more than a cup of ice apart.
func sameTide(a, b []models.IceLevel, span models.Span) bool {
	const cup = 150
	for i := range min(len(a), len(b)) {
		if span.Contains(a[i].At) && (math.Abs(a[i].G-b[i].G) > cup || math.Abs(a[i].P10G-b[i].P10G) > cup || math.Abs(a[i].P90G-b[i].P90G) > cup) {
			return false
		}
	}
	return len(a) == len(b)
}

// toActOn counts the warnings that are more than notes.
func toActOn(p models.Plan) int {
	n := 0
	for _, w := range p.Warnings {
		if w.Grade != models.GradeNote {
			n++
		}
	}
	return n
}

// setupKeys are the parts of a plan request that the set-up holds.
var setupKeys = []string{"site", "coffees", "beverages", "drinks", "brewers", "ice", "water", "costs", "service_level_pct"}

// stepsFor turns a change of the request into the requests that make it so for the plans to come. No steps: the change is of a
// kind that nobody can state here, such as the weather. said tells what is changed for good.
func stepsFor(stored models.Setup, etag string, before, after models.PlanRequest, change json.RawMessage, now time.Time) (steps []step, said string, err error) {
	q := voiceOf(stored.Site)
	var keeps []string
	var parts map[string]json.RawMessage
	if err := json.Unmarshal(change, &parts); err != nil {
		return nil, "", models.Errorf(models.CodeMalformed, "the change is no JSON object: %v", err)
	}
	base := "/v1/sites/" + url.PathEscape(stored.Site.Code)
	put := func(method, path, match string, body any) error {
		b, err := json.Marshal(body)
		steps = append(steps, step{method, base + path, match, b})
		return err
	}
	setupChange := map[string]any{}
	var rows []models.ExpectedDemand
	for _, key := range slices.Sorted(maps.Keys(parts)) {
		switch {
		case key == "ice":
			var ice map[string]json.RawMessage
			if err := json.Unmarshal(parts[key], &ice); err != nil {
				return nil, "", models.Errorf(models.CodeMalformed, "the change of the ice is no JSON object: %v", err)
			}
			if _, stock := ice["opening_g"]; stock {
				more := after.Ice.OpeningG - before.Ice.OpeningG
				if more <= 0 {
					return nil, "", nil
				}
				keeps = append(keeps, q.Say("weekend.keeps.ice"))
				err = put("POST", "/stock-changes", "", map[string]any{"rows": []models.StockChange{{Kind: "bought_in", IceG: &more, At: now, Reason: "bought in to have enough"}}})
				delete(ice, "opening_g")
			}
			if len(ice) > 0 {
				setupChange[key] = ice
			}
		case slices.Contains(setupKeys, key):
			setupChange[key] = parts[key]
		case key == "demand":
			rows = append(rows, demandRowsOf(before.Demand, after.Demand)...)
		case key == "forecast":
			rows = append(rows, forecastRowsOf(before.Forecast, after)...)
		case key == "outages":
			err = put("PUT", "/outages", "", map[string]any{"rows": after.Outages})
		case key == "attention":
			err = put("PUT", "/attention", "", map[string]any{"rows": after.Attention})
		case key == "events":
			err = put("PUT", "/events", "", map[string]any{"events": after.Events})
		default:
			return nil, "", nil
		}
		if err != nil {
			return nil, "", err
		}
	}
	if len(rows) > 0 {
		keeps = append(keeps, q.Say("weekend.keeps.word"))
		if err := put("PUT", "/expected-demand", "", map[string]any{"rows": rows}); err != nil {
			return nil, "", err
		}
	}
	if len(setupChange) > 0 {
		b, err := json.Marshal(setupChange)
		if err != nil {
			return nil, "", fmt.Errorf("write the change of the set-up: %w", err)
		}
		setup, err := patched(stored, b)
		if err != nil {
			return nil, "", err
		}
		keeps = append(keeps, q.Say("weekend.keeps.setup"))
		if err := put("PUT", "/setup", etag, setup); err != nil {
			return nil, "", err
		}
	}
	return steps, strings.Join(keeps, "; "), nil
}

// demandRowsOf are the rows that a change makes different.
func demandRowsOf(before, after []models.Demand) []models.ExpectedDemand {
	var out []models.ExpectedDemand
	for _, d := range after {
		same := slices.ContainsFunc(before, func(b models.Demand) bool {
			return b.Date == d.Date && b.DayPart == d.DayPart && b.Drink == d.Drink && b.Expected == d.Expected && equal(b.P10, d.P10) && equal(b.P90, d.P90)
		})
		if !same {
			expected := d.Expected
			out = append(out, models.ExpectedDemand{Date: d.Date, DayPart: d.DayPart, Drink: d.Drink, Expected: &expected, P10: d.P10, P90: d.P90, Note: "a way out taken"})
		}
	}
	return out
}

func equal(a, b *float64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }

// forecastRowsOf are the rows whose forecast a change makes different, as the manager's word where there is none yet.
func forecastRowsOf(before []models.Forecast, after models.PlanRequest) []models.ExpectedDemand {
	var out []models.ExpectedDemand
	for _, f := range after.Forecast {
		same := func(o models.Forecast) bool {
			return o.Date == f.Date && o.DayPart == f.DayPart && o.Drink == f.Drink && o.Mean == f.Mean && slices.Equal(o.Quantiles, f.Quantiles)
		}
		stated := func(d models.Demand) bool { return d.Date == f.Date && d.DayPart == f.DayPart && d.Drink == f.Drink }
		if slices.ContainsFunc(before, same) || slices.ContainsFunc(after.Demand, stated) {
			continue
		}
		expected := f.Mean
		row := models.ExpectedDemand{Date: f.Date, DayPart: f.DayPart, Drink: f.Drink, Expected: &expected, Note: "a way out taken"}
		low, okLow := quantile(f, 0.1)
		high, okHigh := quantile(f, 0.9)
		if okLow && okHigh && low <= expected && expected <= high {
			row.P10, row.P90 = &low, &high
		}
		out = append(out, row)
	}
	return out
}

func quantile(f models.Forecast, level float64) (float64, bool) {
	for i, l := range f.Levels {
		if math.Abs(l-level) < 1e-9 && i < len(f.Quantiles) {
			return f.Quantiles[i], true
		}
	}
	return 0, false
}
