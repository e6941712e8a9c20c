package web

import (
	"context"
	"encoding/json"
	"html/template"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/api/web/picture"
	"hotday/models"
	"hotday/planner/brew"
	"hotday/planner/say"
)

// recipesView is the page for dialling in a beverage's recipe.
type recipesView struct {
	head
	Beverages []recipeLink
	Name      string
	Code      string
	Method    string
	Dials     []dial
	Bath      bool
	AsksBath  bool
	// HasIceShare: ice is stirred in, so the page shows what its share does.
	HasIceShare bool
	Chart       template.HTML
	Etag        string
	Site        string
	// JSON for the script: the stored beverages, and a calcContext.
	Stored, Around string
	Brews, Zone    string // the coffee's measured brews as JSON; the site's time zone
	Pounds         bool
	Fahrenheit     bool
	FineUnit       string
	History        []recipeChange
}

type recipeLink struct {
	Code, Name string
	Current    bool
}

// dial is a number of the recipe with its slider. Value, Low, High and Step are in display units; stored = (value − Shift)·Factor.
type dial struct {
	ID, Name, Unit, Why    string
	Value, Low, High, Step float64
	Typed                  string // Value in the field
	Factor, Shift          float64
	Saved                  bool // part of the recipe, else only for trying out
}

// recipeChange is a version of the recipe with its changes.
type recipeChange struct {
	When, Who string
	What      []string
	Recipe    string // the beverage as JSON, to restore the dials
}

// calcContext is the input of the calculations besides the recipe.
type calcContext struct {
	AltitudeM float64 `json:"altitude_m"`
	IceTempC  float64 `json:"ice_temp_c"`
	WetShare  float64 `json:"wet_share"`
	StoreC    float64 `json:"store_temp_c"`
	ServingG  float64 `json:"serving_g"` // the largest serving
	Boiling   float64 `json:"boiling_c"`

	Limits brewerLimits `json:"limits"`
}

// brewerLimits are those of the brewer that makes the largest batches of the beverage, as calc ice-shares takes them.
type brewerLimits struct {
	MaxDoseG     *float64 `json:"max_dose_g,omitempty"`
	MaxWaterG    *float64 `json:"max_water_g,omitempty"`
	MaxBeverageG *float64 `json:"max_beverage_g,omitempty"`
}

func largestBrewer(setup models.Setup, code string) (l brewerLimits) {
	for _, b := range setup.Brewers {
		if slices.Contains(b.Beverages, code) && (l.MaxBeverageG == nil || b.MaxBeverageG > *l.MaxBeverageG) {
			l = brewerLimits{b.MaxDoseG, b.MaxWaterG, &b.MaxBeverageG}
		}
	}
	return l
}

// versionsShown is the number of set-up versions searched for the recipe's history.
const versionsShown = 200

func (p *pages) recipes(c *gin.Context) {
	h, setup, ok := p.enter(c, models.ScopeManage, "recipes")
	if !ok {
		return
	}
	ctx := c.Request.Context()
	v := recipesView{head: h, Site: setup.Site.Code, Pounds: h.voice.Pounds(), Fahrenheit: h.voice.Fahrenheit(), FineUnit: h.voice.FineUnit()}
	err := p.Store.Read(ctx, func(s models.Store) (err error) {
		if setup, v.Etag, err = s.Setup(ctx, setup.Site.Code); err != nil {
			return err
		}
		i := slices.IndexFunc(setup.Beverages, func(b models.Beverage) bool { return b.Code == c.Query("beverage") })
		if i < 0 && c.Query("beverage") != "" {
			return models.Errorf(models.CodeNotFound, "there is no beverage %q", c.Query("beverage"))
		}
		if len(setup.Beverages) == 0 {
			return nil
		}
		if err := v.fill(setup, max(i, 0)); err != nil {
			return err
		}
		if err := v.addBrews(ctx, s, setup, max(i, 0)); err != nil {
			return err
		}
		versions, err := s.SetupVersions(ctx, setup.Site.Code, versionsShown)
		if err != nil {
			return err
		}
		by, err := s.Audit(ctx, []string{setup.Site.Code}, models.Page{Limit: versionsShown})
		if err != nil {
			return err
		}
		return v.addHistory(versions, by.Rows, p.Now())
	})
	if err != nil {
		p.renderError(c, err)
		return
	}
	p.render(c, http.StatusOK, "recipes", v)
}

func (v *recipesView) fill(setup models.Setup, i int) error {
	b := setup.Beverages[i]
	v.Code, v.Name, v.Method, v.Bath = b.Code, nameOr(b.Name, b.Code), b.Method, b.Bath
	for _, o := range setup.Beverages {
		v.Beverages = append(v.Beverages, recipeLink{o.Code, nameOr(o.Name, o.Code), o.Code == b.Code})
	}
	v.AsksBath, v.HasIceShare = b.Method != models.Steeped, b.Method != models.HotChilled
	v.Scripts = []string{"recipes.js"}
	v.Dials = v.dials(setup, b)
	v.Chart = v.chart(b)
	stored, err := json.Marshal(setup.Beverages)
	if err != nil {
		return err
	}
	a := calcContext{AltitudeM: setup.Site.AltitudeM, IceTempC: setup.Ice.IceTempC, WetShare: wetShare(setup.Ice), StoreC: setup.Site.StoreTempC, Boiling: brew.BoilingPoint(setup.Site.AltitudeM), Limits: largestBrewer(setup, b.Code)}
	for _, d := range setup.Drinks {
		for _, u := range d.Uses {
			if u.Beverage == b.Code {
				a.ServingG = max(a.ServingG, u.G)
			}
		}
	}
	rest, err := json.Marshal(a)
	v.Stored, v.Around = string(stored), string(rest)
	return err
}

// addBrews adds the measured brews of a beverage's coffee.
func (v *recipesView) addBrews(ctx context.Context, s models.Store, setup models.Setup, i int) error {
	brews, err := s.MeasuredBrews(ctx, setup.Site.Code, setup.Beverages[i].Coffee)
	if err != nil {
		return err
	}
	doc, err := json.Marshal(append([]models.MeasuredBrew{}, brews...))
	v.Brews, v.Zone = string(doc), setup.Site.Timezone
	return err
}

// wetShare is the largest wet share of any drink ice, the conservative choice, since wet ice cools less.
func wetShare(ice models.Ice) float64 {
	w := 0.0
	for _, m := range ice.Makers {
		if m.Treated {
			w = max(w, m.WetShare)
		}
	}
	for _, m := range ice.Moulds {
		if m.Treated {
			w = max(w, m.WetShare)
		}
	}
	return w
}

// dialName is the key of a dial's name: the field of Settings that it changes.
func dialName(id string) string {
	switch id {
	case "batch_g":
		return "recipes.dial.batch_g"
	case "ice_temp_c":
		return "setup.field.ice.ice_temp_c"
	}
	return "setup.field.beverages." + id
}

// dials returns the dials that the beverage's method has.
func (v *recipesView) dials(setup models.Setup, b models.Beverage) []dial {
	q := v.voice
	var out []dial
	add := func(d dial) {
		d.Name = q.Say(dialName(d.ID))
		if why := "recipes.why." + d.ID; q.Has(why) {
			d.Why = q.Say(why)
		}
		if d.Factor == 0 {
			d.Factor = 1
		}
		d.Typed = q.Typed(strconv.FormatFloat(d.Value, 'f', -1, 64))
		d.Low, d.High = min(d.Low, d.Value), max(d.High, d.Value)
		out = append(out, d)
	}
	temp := func(id string, c, low, high float64, saved bool) {
		d := dial{ID: id, Unit: q.TempUnit(), Value: c, Low: low, High: high, Step: 0.5, Saved: saved}
		if q.Fahrenheit() {
			f := func(c float64) float64 { return math.Round(c*9/5 + 32) }
			d.Value, d.Low, d.High, d.Step, d.Factor, d.Shift = math.Round((c*9/5+32)*10)/10, f(low), f(high), 1, 5.0/9, 32
		}
		add(d)
	}
	add(dial{ID: "ratio", Unit: q.Say("recipes.unit.ratio"), Value: b.Ratio, Low: 4, High: 20, Step: 0.1, Saved: true})
	if b.Method != models.HotChilled {
		add(dial{ID: "ice_share", Unit: "%", Value: math.Round(b.IceShare*1000) / 10, Low: 0, High: 60, Step: 1, Factor: 0.01, Saved: true})
	}
	if b.Method == models.Steeped {
		temp("steep_temp_c", b.SteepTempC, 1, 25, true)
	} else {
		temp("brewer_out_temp_c", b.BrewerOutTempC, 40, math.Floor(brew.BoilingPoint(setup.Site.AltitudeM)), true)
	}
	temp("target_temp_c", b.TargetTempC, 1, 20, true)
	temp("ice_temp_c", setup.Ice.IceTempC, -25, 0, false)
	add(dial{ID: "target_tds_pct", Unit: "%", Value: b.TargetTDSPct, Low: 0.5, High: 6, Step: 0.05, Saved: true})
	add(dial{ID: "max_yield_pct", Unit: "%", Value: b.MaxYieldPct, Low: 14, High: 30, Step: 0.1, Saved: true})
	add(dial{ID: "retained_ratio", Unit: q.Say("recipes.unit.kept"), Value: b.RetainedRatio, Low: 1, High: 5, Step: 0.05, Saved: true})
	size, unit, step, factor := batchSize(setup, b.Code), q.FineUnit(), 100.0, 1.0
	if q.Pounds() {
		unit, step, factor = q.MassUnit(), 0.1, 453.59237
		size = math.Round(size/factor*10) / 10
	}
	add(dial{ID: "batch_g", Unit: unit, Value: size, Low: step, High: max(10*step, 1.2*size), Step: step, Factor: factor})
	return out
}

// batchSize is the largest batch of a beverage that any brewer makes, g; 5 kg if there is no brewer for it.
func batchSize(setup models.Setup, code string) float64 {
	if l := largestBrewer(setup, code); l.MaxBeverageG != nil && *l.MaxBeverageG > 0 {
		return *l.MaxBeverageG
	}
	return 5000
}

func (v *recipesView) chart(b models.Beverage) template.HTML {
	q := v.voice
	rec := brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}
	x, _ := rec.Extract(1) // Validate has refused recipes with too little water
	return picture.BrewChart{YieldPct: x.YieldPct, TDSPct: rec.FinalTDSPct(), TargetTDSPct: b.TargetTDSPct, Texts: picture.BrewChartTexts{
		Title: q.Say("recipes.chart.title", "yield", q.Number(x.YieldPct, 1), "tds", q.Number(rec.FinalTDSPct(), 2)),
		Yield: q.Say("recipes.chart.yield"), Strength: q.Say("recipes.chart.strength"), Practice: q.Say("recipes.chart.practice"),
		Target: q.Say("recipes.chart.target")}}.Draw(420, 320)
}

// addHistory adds the versions in which this recipe changed, newest first, with their authors.
func (v *recipesView) addHistory(versions []models.SetupVersion, by []models.AuditEntry, now time.Time) error {
	q := v.voice
	for i, version := range versions {
		b, ok := beverageIn(version.Setup, v.Code)
		if !ok {
			break
		}
		var what []string
		switch {
		case i+1 < len(versions):
			old, was := beverageIn(versions[i+1].Setup, v.Code)
			if was {
				what = recipeChanges(old, b, q)
			} else {
				what = []string{q.Say("recipes.history.new")}
			}
		case len(versions) < versionsShown:
			what = []string{q.Say("recipes.history.first")}
		}
		if len(what) == 0 {
			continue
		}
		doc, err := json.Marshal(b)
		if err != nil {
			return err
		}
		v.History = append(v.History, recipeChange{When: q.Near(version.StoredAt, now), Who: changedBy(by, version.StoredAt), What: what, Recipe: string(doc)})
	}
	return nil
}

func beverageIn(setup models.Setup, code string) (models.Beverage, bool) {
	i := slices.IndexFunc(setup.Beverages, func(b models.Beverage) bool { return b.Code == code })
	if i < 0 {
		return models.Beverage{}, false
	}
	return setup.Beverages[i], true
}

// changedBy returns who stored the version of a time, "" if unknown. The activity log is written in the same transaction.
func changedBy(by []models.AuditEntry, at time.Time) string {
	for _, e := range by {
		if e.Action == models.AuditSetUp && e.At.Sub(at).Abs() < time.Second {
			return e.By
		}
	}
	return ""
}

// recipeChanges lists the differences between two versions of a recipe: "ratio 1:14.6 → 1:15.2".
func recipeChanges(old, b models.Beverage, q voice) []string {
	var out []string
	before, after := recipeFields(old, q), recipeFields(b, q)
	for i, w := range after {
		if before[i].text != w.text {
			out = append(out, q.Say("recipes.script.changed", "what", q.Say(fieldKey(q, "setup.field.", "beverages."+w.key, "")), "from", before[i].text, "to", w.text))
		}
	}
	return out
}

type recipeField struct{ key, text string }

// recipeFields formats a recipe field by field.
func recipeFields(b models.Beverage, q voice) []recipeField {
	none := q.Say("recipes.history.none")
	maybe := func(x *float64, write func(float64) string) string {
		if x == nil {
			return none
		}
		return write(*x)
	}
	plain := func(x float64) string {
		return q.Typed(strings.TrimSuffix(strings.TrimRight(say.Number(x, 2), "0"), "."))
	}
	yes := map[bool]string{true: q.Say("recipes.history.yes"), false: q.Say("recipes.history.no")}
	hours := func(h float64) string { return q.Span(time.Duration(h * float64(time.Hour))) }
	return []recipeField{
		{"name", nameOr(b.Name, b.Code)}, {"method", q.Say("setup.choice.beverages.method." + b.Method)}, {"coffee", b.Coffee}, {"ratio", "1:" + plain(b.Ratio)},
		{"ice_share", plain(100*b.IceShare) + "%"}, {"brewer_out_temp_c", q.Temp(b.BrewerOutTempC)}, {"rest_temp_c", maybe(b.RestTempC, q.Temp)},
		{"bath", yes[b.Bath]}, {"bath_temp_c", q.Temp(b.BathTempC)}, {"cooling_ua_w_per_k", maybe(b.CoolingUAWPerK, plain)}, {"target_temp_c", q.Temp(b.TargetTempC)},
		{"steep_h", maybe(b.SteepH, hours)}, {"steep_temp_c", q.Temp(b.SteepTempC)}, {"ready_min", hours(b.ReadyMin / 60)}, {"hold_h", hours(b.HoldH)},
		{"target_tds_pct", plain(b.TargetTDSPct) + "%"}, {"max_yield_pct", plain(b.MaxYieldPct) + "%"}, {"retained_ratio", plain(b.RetainedRatio)},
		{"disposal_cost_per_kg", plain(b.DisposalCost)}, {"aging_cost_per_kg_h", plain(b.AgingCostPerKgPH)},
	}
}
