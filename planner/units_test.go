package planner_test

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/sheet"
)

// metric finds a quantity in metric units or a time of a 24 h clock. mg/L and meq/L are what a water report has everywhere.
var metric = regexp.MustCompile(`\bkg\b|\bg\b|°C|[^/]\bL\b|\b(?:[01]?\d|2[0-3]):[0-5]\d\b(?:[^\d\x{202f} .]|\.\D|[ \x{202f}](?:[^ap]|[ap][^m]))`)

// saltG is what stays in grams: salts are weighed on a scale of their own.
var saltG = regexp.MustCompile(`(?:Ca|Mg|Na|K)(?:Cl2|SO4|HCO3)[A-Za-z0-9.·]*[\s\x{202f}]+[\d.]+[\s\x{202f}]+g\b|\b[\d.]+[\s\x{202f}]+g[\s\x{202f}]+(?:Ca|Mg|Na|K)(?:Cl2|SO4|HCO3)`)

// customary is a site that shows nothing in metric units.
var customary = models.Units{Temperature: "f", Mass: "oz_lb", Volume: "fl_oz_gal", Clock: "12h", Dates: "month_day"}

func noMetric(t *testing.T, where, text string) {
	t.Helper()
	text = saltG.ReplaceAllString(text, "salt")
	for _, at := range metric.FindAllStringIndex(text, -1) {
		t.Errorf("%s: %q in “%s”", where, text[at[0]:at[1]], text[max(0, at[0]-60):min(len(text), at[1]+40)])
	}
}

func noMetricInPlan(t *testing.T, r models.PlanRequest, p models.Plan) {
	t.Helper()
	noMetric(t, "summary", p.Summary.Text)
	for _, w := range p.Warnings {
		noMetric(t, "warning", w.Cause)
		for _, o := range w.Fixes {
			noMetric(t, "fix", o.Action)
		}
	}
	for _, b := range p.Batches {
		noMetric(t, "what a batch serves", b.Serves)
		noMetric(t, "what another time costs", sheet.OtherwiseText(b.Otherwise, r.Site))
		for _, s := range b.Cautions {
			noMetric(t, "caution of a batch", s)
		}
	}
	for _, s := range p.Cautions {
		noMetric(t, "caution", s)
	}
	var out bytes.Buffer
	require.NoError(t, sheet.WriteText(&out, r, p))
	noMetric(t, "plan as text", out.String())
	for _, day := range sheet.PrepSheets(r, p, nil, r.Now) {
		out.Reset()
		require.NoError(t, sheet.WriteSheetText(&out, r.Site, day))
		noMetric(t, "sheet as text", out.String())
		for _, task := range day.Tasks {
			noMetric(t, "task", strings.Join([]string{task.Say, task.Why, task.Caution}, " "))
		}
	}
}

func TestASiteInCustomaryUnitsReadsNothingMetric(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	b, err := os.ReadFile("../testdata/requests/weekend.json")
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(b, &r))
	r.Site.Units = &customary
	compute := func(change func(r *models.PlanRequest)) (models.PlanRequest, models.Plan) {
		doc := r
		require.NoError(t, models.DecodeStrict(b, &doc))
		doc.Site.Units = &customary
		change(&doc)
		p, err := planner.ComputeWith(t.Context(), doc, planner.Options{Budget: 40_000, Days: 200})
		require.NoError(t, err)
		noMetricInPlan(t, doc, p)
		return doc, p
	}
	doc, before := compute(func(r *models.PlanRequest) {})
	_, after := compute(func(r *models.PlanRequest) { // as much as can go wrong, goes wrong
		r.Site.StoreTempC, r.Site.MaxHoldH, r.Site.AltitudeM = 7, 48, 2400
		r.Site.StoreG *= 0.6
		r.Ice.OpeningG, r.Ice.Plain.OpeningG, r.Ice.Plain.BinG = r.Ice.BinG*1.5, 0, 0
		old := r.Now.Add(-20 * time.Hour)
		r.Ice.CountedAt = &old
		r.Water.TankL, r.Water.OpeningL, r.Water.MakeLPerH = 30, 10, 2
		r.ServiceLevelPct = new(95.0) // else no more is brewed than there is ice for
		for i := range r.Ice.Makers {
			r.Ice.Makers[i].KgPerDayRated *= 0.1
			r.Ice.Makers[i].Curve = nil
		}
		for k := range r.Coffees[0].Lots { // of the others there is enough to run out of water and ice
			r.Coffees[0].Lots[k].Grams = min(r.Coffees[0].Lots[k].Grams, 900)
		}
		for i := range r.Beverages {
			r.Beverages[i].TargetTempC = 2
			if r.Beverages[i].Method == models.Steeped {
				r.Beverages[i].SteepTempC = 18
			}
		}
		for i := range r.Demand {
			d := &r.Demand[i]
			d.Expected *= 1.6
			d.P10, d.P90 = nil, nil
		}
		r.Stock = append(r.Stock, models.Stock{Beverage: r.Beverages[0].Code, G: 900, MadeAt: r.Now.Add(-100 * time.Hour)})
	})
	kinds := map[string]bool{}
	ways := 0
	for _, w := range after.Warnings {
		kinds[w.Kind] = true
		ways += len(w.Fixes)
	}
	for _, k := range []string{models.WarnIceShort, models.WarnBeverageShort, models.WarnBeansShort, models.WarnWaterShort, models.WarnColdStoreFull, models.WarnLimitLax, models.WarnTargetTemp} {
		assert.True(t, kinds[k], "the plan should warn of %s, it is there to be read", k)
	}
	assert.GreaterOrEqual(t, ways, 3)
	changes := sheet.Changes(before, after, doc.Setup)
	assert.GreaterOrEqual(t, len(changes), 4)
	for _, c := range changes {
		noMetric(t, "change", c.Text)
	}
}
