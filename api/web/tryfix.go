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
	"hotday/models"
)

// fixPreview compares the plan with one that has a fix applied.
type fixPreview struct {
	Action   string
	Same     bool // the plan does not change
	Numbers  []comparison
	Pairs    []chartPair
	Changes  []string
	More     int
	Requests string // JSON of the apiRequests that apply the fix; "": it cannot be applied here
	Lasting  string // permanent changes made by applying it
}

type comparison struct{ What, Now, Then string }

type chartPair struct{ Now, Then template.HTML }

// apiRequest is a request that applies a part of a fix.
type apiRequest struct {
	Method string          `json:"method"`
	Path   string          `json:"path"`
	Match  string          `json:"match,omitempty"` // If-Match
	Body   json.RawMessage `json:"body"`
}

// tryFix recomputes a plan with one fix applied and renders the comparison as an HTML fragment.
func (p *pages) tryFix(c *gin.Context) {
	_, setup, ok := p.enter(c, models.ScopeRead, "weekend")
	if !ok {
		return
	}
	ctx, site := c.Request.Context(), setup.Site.Code
	revision, _ := strconv.Atoi(c.PostForm("revision"))
	plan, request, err := p.Store.Plan(ctx, site, revision)
	if err != nil {
		p.renderFragmentError(c, err)
		return
	}
	warning, fix, err := findFix(plan, c.PostForm("warning"), c.PostForm("way"))
	if err != nil {
		p.renderFragmentError(c, err)
		return
	}
	changed, err := applyPatch(request, fix.Change)
	if err != nil {
		p.renderFragmentError(c, err)
		return
	}
	then, err := p.Compute(c, changed)
	if err != nil {
		p.renderFragmentError(c, err)
		return
	}
	v := compareFix(request, plan, changed, then, warning, fix)
	for _, ch := range p.Changes(plan, then, request.Setup) {
		v.Changes = append(v.Changes, ch.Text)
	}
	if n := len(v.Changes); n > maxChangesShown {
		v.Changes, v.More = v.Changes[:maxChangesShown], n-maxChangesShown
	}
	v.Same = len(v.Changes) == 0
	stored, etag, err := p.Store.Setup(ctx, site)
	if err != nil {
		p.renderFragmentError(c, err)
		return
	}
	steps, keeps, err := requestsFor(stored, etag, request, changed, fix.Change, p.Now())
	if err != nil {
		p.renderFragmentError(c, err)
		return
	}
	if len(steps) > 0 {
		b, err := json.Marshal(steps)
		if err != nil {
			p.renderFragmentError(c, err)
			return
		}
		v.Requests, v.Lasting = string(b), keeps
	}
	p.render(c, http.StatusOK, "tried", v)
}

// renderFragmentError renders an error as an HTML fragment.
func (p *pages) renderFragmentError(c *gin.Context, err error) {
	if models.CodeOf(err) == models.CodeInternal && c.Request.Context().Err() == nil { // a disconnected client is not an error
		p.Log.Error("trying a fix failed", "path", c.Request.URL.Path, "error", err)
	}
	p.render(c, models.CodeOf(err).Status(), "notried", trouble(p.catalogueOf(c), err))
}

func findFix(plan models.Plan, warning, fix string) (models.Warning, models.Fix, error) {
	i, err1 := strconv.Atoi(warning)
	k, err2 := strconv.Atoi(fix)
	if err1 != nil || err2 != nil || i < 0 || i >= len(plan.Warnings) || k < 0 || k >= len(plan.Warnings[i].Fixes) {
		return models.Warning{}, models.Fix{}, models.Errorf(models.CodeNotFound, "plan %d has no such fix", plan.Revision)
	}
	return plan.Warnings[i], plan.Warnings[i].Fixes[k], nil
}

func compareFix(request models.PlanRequest, plan models.Plan, changed models.PlanRequest, then models.Plan, w models.Warning, fix models.Fix) fixPreview {
	v := fixPreview{Action: fix.Action}
	q := voiceOf(request.Site)
	add := func(what, now, then string) { v.Numbers = append(v.Numbers, comparison{what, now, then}) }
	if w.ChancePct > 0 {
		add(q.Say("weekend.tried.chance_of_this"), q.Chance(w.ChancePct), q.Chance(fix.Effect.ChancePct))
	}
	if w.Amount > 0 {
		add(q.Say("weekend.tried.how_much"), q.WarningAmount(w.Amount, w.Unit), q.WarningAmount(fix.Effect.Amount, w.Unit))
	}
	add(q.Say("weekend.tried.things_to_act_on"), strconv.Itoa(actionable(plan)), strconv.Itoa(actionable(then)))
	add(q.Say("weekend.tried.batches"), strconv.Itoa(len(plan.Batches)), strconv.Itoa(len(then.Batches)))
	add(q.Say("weekend.tried.coffee_made"), q.GlanceMass(plan.Summary.BeverageG), q.GlanceMass(then.Summary.BeverageG))
	add(q.Say("weekend.tried.drink_ice_used"), q.GlanceMass(plan.Summary.DrinkIceG), q.GlanceMass(then.Summary.DrinkIceG))
	add(q.Say("weekend.tried.drink_ice_left"), q.GlanceMass(plan.Ice.LeftG), q.GlanceMass(then.Ice.LeftG))
	add(q.Say("weekend.tried.cost"), q.Money(plan.Expected.Cost.Total, request.Site.Currency), q.Money(then.Expected.Cost.Total, changed.Site.Currency))
	full := max(picture.ScaleTop(request, plan), picture.ScaleTop(changed, then))
	for _, f := range picture.Frames(request, plan, narrowDays, narrowWidth, true) {
		if sameIceChart(plan.Ice.Levels, then.Ice.Levels, models.Span{From: f.From, To: f.To}) {
			continue
		}
		v.Pairs = append(v.Pairs, chartPair{picture.IceChart(request, plan, f, full), picture.IceChart(changed, then, f, full)})
	}
	return v
}

// sameIceChart reports whether two plans' ice levels differ by no more than a cup of ice throughout a span.
func sameIceChart(a, b []models.IceLevel, span models.Span) bool {
	const cup = 150 // g
	for i := range min(len(a), len(b)) {
		if span.Contains(a[i].At) && (math.Abs(a[i].G-b[i].G) > cup || math.Abs(a[i].P10G-b[i].P10G) > cup || math.Abs(a[i].P90G-b[i].P90G) > cup) {
			return false
		}
	}
	return len(a) == len(b)
}

// actionable counts the warnings that are not just notes.
func actionable(p models.Plan) int {
	n := 0
	for _, w := range p.Warnings {
		if w.Grade != models.GradeNote {
			n++
		}
	}
	return n
}

// setupKeys are the parts of a plan request that belong to the set-up.
var setupKeys = []string{"site", "coffees", "beverages", "drinks", "brewers", "ice", "water", "costs", "service_level_pct"}

// requestsFor converts a change of the plan request to the API requests that apply it to future plans. There are none if the change
// cannot be applied here, such as the weather. lasting describes the permanent changes.
func requestsFor(stored models.Setup, etag string, before, after models.PlanRequest, change json.RawMessage, now time.Time) (requests []apiRequest, lasting string, err error) {
	q := voiceOf(stored.Site)
	var notes []string
	var parts map[string]json.RawMessage
	if err := json.Unmarshal(change, &parts); err != nil {
		return nil, "", models.Errorf(models.CodeMalformed, "the change is not a JSON object: %v", err)
	}
	base := "/v1/sites/" + url.PathEscape(stored.Site.Code)
	put := func(method, path, match string, body any) error {
		b, err := json.Marshal(body)
		requests = append(requests, apiRequest{method, base + path, match, b})
		return err
	}
	setupChange := map[string]any{}
	var rows []models.ExpectedDemand
	for _, key := range slices.Sorted(maps.Keys(parts)) {
		switch {
		case key == "ice":
			var ice map[string]json.RawMessage
			if err := json.Unmarshal(parts[key], &ice); err != nil {
				return nil, "", models.Errorf(models.CodeMalformed, "the change of the ice is not a JSON object: %v", err)
			}
			if _, stock := ice["opening_g"]; stock {
				more := after.Ice.OpeningG - before.Ice.OpeningG
				if more <= 0 {
					return nil, "", nil
				}
				notes = append(notes, q.Say("weekend.keeps.ice"))
				err = put("POST", "/stock-changes", "", map[string]any{"rows": []models.StockChange{{Kind: "bought_in", IceG: &more, At: now, Reason: "bought in to have enough"}}})
				delete(ice, "opening_g")
			}
			if len(ice) > 0 {
				setupChange[key] = ice
			}
		case slices.Contains(setupKeys, key):
			setupChange[key] = parts[key]
		case key == "demand":
			rows = append(rows, changedDemand(before.Demand, after.Demand)...)
		case key == "forecast":
			rows = append(rows, changedForecast(before.Forecast, after)...)
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
		notes = append(notes, q.Say("weekend.keeps.word"))
		if err := put("PUT", "/expected-demand", "", map[string]any{"rows": rows}); err != nil {
			return nil, "", err
		}
	}
	if len(setupChange) > 0 {
		b, err := json.Marshal(setupChange)
		if err != nil {
			return nil, "", fmt.Errorf("encode the change of the set-up: %w", err)
		}
		setup, err := applyPatch(stored, b)
		if err != nil {
			return nil, "", err
		}
		notes = append(notes, q.Say("weekend.keeps.setup"))
		if err := put("PUT", "/setup", etag, setup); err != nil {
			return nil, "", err
		}
	}
	return requests, strings.Join(notes, "; "), nil
}

// changedDemand returns the rows that a change modifies.
func changedDemand(before, after []models.Demand) []models.ExpectedDemand {
	var out []models.ExpectedDemand
	for _, d := range after {
		same := slices.ContainsFunc(before, func(b models.Demand) bool {
			return b.Date == d.Date && b.DayPart == d.DayPart && b.Drink == d.Drink && b.Expected == d.Expected && equal(b.P10, d.P10) && equal(b.P90, d.P90)
		})
		if !same {
			expected := d.Expected
			out = append(out, models.ExpectedDemand{Date: d.Date, DayPart: d.DayPart, Drink: d.Drink, Expected: &expected, P10: d.P10, P90: d.P90, Note: "suggested fix"})
		}
	}
	return out
}

func equal(a, b *float64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }

// changedForecast returns the rows whose forecast a change modifies, as the manager's numbers, except rows that already have one.
func changedForecast(before []models.Forecast, after models.PlanRequest) []models.ExpectedDemand {
	var out []models.ExpectedDemand
	for _, f := range after.Forecast {
		same := func(o models.Forecast) bool {
			return o.Date == f.Date && o.DayPart == f.DayPart && o.Drink == f.Drink && o.Mean == f.Mean && slices.Equal(o.Quantiles, f.Quantiles)
		}
		manual := func(d models.Demand) bool { return d.Date == f.Date && d.DayPart == f.DayPart && d.Drink == f.Drink }
		if slices.ContainsFunc(before, same) || slices.ContainsFunc(after.Demand, manual) {
			continue
		}
		expected := f.Mean
		row := models.ExpectedDemand{Date: f.Date, DayPart: f.DayPart, Drink: f.Drink, Expected: &expected, Note: "suggested fix"}
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
