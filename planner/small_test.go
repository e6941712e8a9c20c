package planner

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// small is a shop of one drink, one flash beverage and one brewer, open 08:00 to 18:00, planned for one day.
func small() models.PlanRequest {
	r := models.PlanRequest{From: "2026-07-11", Days: 1, Seed: 1, Now: time.Date(2026, 7, 11, 5, 0, 0, 0, time.UTC)}
	r.Site = models.Site{Code: "quay", Timezone: "Europe/Berlin", Currency: "EUR", SetupMin: 60, SlotMin: 15, StartsPerSlot: 1, StoreG: 20000, StoreTempC: 5, MaxHoldH: 24,
		DayParts: []models.DayPart{{Code: "am", From: "08:00", To: "13:00"}, {Code: "pm", From: "13:00", To: "18:00"}}}
	for _, w := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		r.Site.Opening = append(r.Site.Opening, models.Opening{Weekday: w, From: "08:00", To: "18:00"})
	}
	r.Coffees = []models.Coffee{{Code: "dune", RestDaysMin: 7, RestDaysMax: 45, ThawH: 12, PackG: 1000, CostPerKg: 2400,
		Lots: []models.BeanLot{{Code: "D1", RoastedOn: "2026-06-25", Grams: 8000, Place: "shelf"}}}}
	r.Beverages = []models.Beverage{{Code: "dune-flash", Name: "Dune, flash", Method: models.Flash, Coffee: "dune", Ratio: 14.6, IceShare: 0.3, RetainedRatio: 2.1, MaxYieldPct: 21.8,
		BrewerOutTempC: 84, Bath: true, BathTempC: 1, TargetTempC: 5, SteepTempC: 5, ReadyMin: 30, HoldH: 8, TargetTDSPct: 1.4, DisposalCost: 20, AgingCostPerKgPH: 5}}
	r.Drinks = []models.Drink{{Code: "dune-glass", Price: 420, Uses: []models.Use{{Beverage: "dune-flash", G: 180}}, ServingIceG: 140, OtherCost: 10}}
	r.Brewers = []models.Brewer{{Code: "urn", Beverages: []string{"dune-flash"}, MinBeverageG: 800, MaxBeverageG: 5000, BusyMin: 15, BatchCost: 90}}
	r.Ice = models.Ice{OpeningG: 40000, BinG: 60000, IceTempC: -5, InletWaterC: 15, Plain: models.PlainIce{OpeningG: 30000, BinG: 30000}}
	r.Water = models.Water{TankL: 200, OpeningL: 200, MakeLPerH: 10, RecoveryPct: 60, RinseLPerBatch: 1, Source: models.Ions{CaMgL: 80, MgMgL: 12, NaMgL: 10, KMgL: 2, HCO3MgL: 240},
		Target: models.WaterTarget{HardnessMgLCaCO3: 68, AlkalinityMgLCaCO3: 40, MgShare: 0.3}, Salts: []string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"}}
	r.Costs.ShortFactor = 1
	for _, p := range r.Site.DayParts {
		r.Demand = append(r.Demand, models.Demand{Date: r.From, DayPart: p.Code, Drink: "dune-glass", Expected: 40})
	}
	for t := r.Now.Truncate(time.Hour); t.Before(r.Now.Add(72 * time.Hour)); t = t.Add(time.Hour) {
		r.Weather = append(r.Weather, models.WeatherHour{At: t, TempC: 28})
	}
	return r
}

// planOf plans a request without fixes and holds the plan to the request's rules.
func planOfRequest(t testing.TB, r models.PlanRequest) models.Plan {
	t.Helper()
	return planWith(t, r, Options{WithoutFixes: true, Budget: 40_000, Days: 200})
}

// fixedPlanOf is planOfRequest with no batch left to the day, for which more may be brewed than is prepared for.
func fixedPlanOf(t testing.TB, r models.PlanRequest) models.Plan {
	t.Helper()
	return planWith(t, r, Options{WithoutFixes: true, NoChoices: true, Budget: 40_000, Days: 200})
}

func planWith(t testing.TB, r models.PlanRequest, o Options) models.Plan {
	t.Helper()
	require.NoError(t, r.Validate())
	p, err := ComputeWith(context.Background(), r, o)
	require.NoError(t, err)
	require.Empty(t, broken(&r, &p))
	return p
}

func kinds(p models.Plan) []string {
	var out []string
	for _, w := range p.Warnings {
		out = append(out, w.Kind)
	}
	return out
}

func warningOf(t testing.TB, p models.Plan, kind string) models.Warning {
	t.Helper()
	for _, w := range p.Warnings {
		if w.Kind == kind {
			return w
		}
	}
	require.Failf(t, "no such warning", "%s among %v", kind, kinds(p))
	return models.Warning{}
}

func servedBy(p models.Plan) float64 {
	g := 0.0
	for _, b := range p.Batches {
		g += b.BeverageG
	}
	return g
}

func TestAPlainDayIsCoveredAndQuiet(t *testing.T) {
	t.Parallel()
	p := fixedPlanOf(t, small())
	assert.NotEmpty(t, p.Batches)
	for _, w := range p.Warnings {
		assert.Equal(t, models.WarnCoolingSlow, w.Kind, "%s", w.Cause)
		assert.Equal(t, models.GradeNote, w.Grade, "a bath whose cooling time nobody has measured is a note")
	}
	prepared := 0.0
	for _, d := range p.Demand {
		prepared += d.Prepare
		assert.Greater(t, d.Prepare, d.Mean, "the margin asks for more than the mean")
		assert.Less(t, d.Prepare, 2*d.Mean)
	}
	assert.InDelta(t, prepared*180, servedBy(p), 180, "what is made is what is prepared")
	assert.Equal(t, small().Now, p.ComputedAt)
	assert.Zero(t, p.Revision)
	assert.NotEmpty(t, p.Summary.Text)
}

func TestOneRowOneDayGetsTheQuantileOfTheLevel(t *testing.T) {
	t.Parallel()
	r := small()
	level := 80.0
	r.ServiceLevelPct = &level
	low, high := 30.0, 60.0
	r.Demand = []models.Demand{{Date: r.From, DayPart: "am", Drink: "dune-glass", Expected: 40, P10: &low, P90: &high}}
	p := planOfRequest(t, r)
	require.Len(t, p.Demand, 1)
	// The upper half is log-normal through 40 and 60: z(0.8)/z(0.9) of the way.
	want := 40 * powRatio(60.0/40, 0.8416212335729143/1.2815515655446004)
	assert.InDelta(t, want, p.Demand[0].Prepare, 0.02)
	assert.InDelta(t, want*180, servedBy(p), 100, "in sizes of 100 g")
}

func TestDegenerateRequestsAreStillPlanned(t *testing.T) {
	t.Parallel()
	cases := map[string]func(r *models.PlanRequest){
		"no brewers":       func(r *models.PlanRequest) { r.Brewers = nil },
		"brewer of naught": func(r *models.PlanRequest) { r.Brewers[0].Beverages = nil },
		"no lots":          func(r *models.PlanRequest) { r.Coffees[0].Lots = nil },
		"no ice at all":    func(r *models.PlanRequest) { r.Ice = models.Ice{} },
		"no water at all":  func(r *models.PlanRequest) { r.Water = models.Water{RecoveryPct: 50} },
		"no demand": func(r *models.PlanRequest) {
			for i := range r.Demand {
				r.Demand[i].Expected = 0
			}
		},
		"closed that day": func(r *models.PlanRequest) {
			r.Events = []models.Event{{From: r.Now.Add(-24 * time.Hour), To: r.Now.Add(48 * time.Hour), Closed: true, Factor: 1}}
		},
		"weekday closed": func(r *models.PlanRequest) { r.Site.Opening = r.Site.Opening[:3] },
		"nobody may start": func(r *models.PlanRequest) {
			r.Site.StartsPerSlot = 0
		},
		"no store":     func(r *models.PlanRequest) { r.Site.StoreG = 0 },
		"no drinks":    func(r *models.PlanRequest) { r.Drinks[0].Uses = nil; r.Drinks[0].ServingIceG = 0 },
		"now is late":  func(r *models.PlanRequest) { r.Now = time.Date(2026, 7, 11, 21, 40, 0, 0, time.UTC) },
		"held nowhere": func(r *models.PlanRequest) { r.Beverages[0].HoldH = 0.1 },
		"never cold":   func(r *models.PlanRequest) { ua := 0.001; r.Beverages[0].CoolingUAWPerK = &ua },
	}
	for name, change := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := small()
			change(&r)
			p, err := ComputeWith(context.Background(), r, Options{Budget: 5000, Days: 50})
			require.NoError(t, err)
			assert.Empty(t, broken(&r, &p))
			assert.NotEmpty(t, p.Summary.Text)
			assert.NotNil(t, p.Batches)
			assert.NotNil(t, p.Warnings)
		})
	}
}

func TestClosedHoursHaveNoDemandAndAnEventHasMore(t *testing.T) {
	t.Parallel()
	r := small()
	berlin := r.Site.Location()
	at := func(h int) time.Time { return time.Date(2026, 7, 11, h, 0, 0, 0, berlin) }
	plain := planOfRequest(t, r)
	r.Events = []models.Event{{From: at(14), To: at(18), Name: "street works", Closed: true, Factor: 1}, {From: at(8), To: at(13), Name: "market", Factor: 1.5}}
	p := planOfRequest(t, r)
	assert.InDelta(t, 1.5*plain.Demand[0].Mean, p.Demand[0].Mean, 1e-9)
	assert.InDelta(t, plain.Demand[1].Mean/5, p.Demand[1].Mean, 1e-9, "one of five hours is left")
	for _, b := range p.Batches {
		assert.True(t, b.Start.Before(at(15)), "%s after closing", b.Start)
	}
}

func TestAStateLevelWinsOverTheCosts(t *testing.T) {
	t.Parallel()
	r := small()
	var made []float64
	for _, level := range []float64{20, 50, 90, 99} {
		r.ServiceLevelPct = &level
		made = append(made, servedBy(planOfRequest(t, r)))
	}
	assert.IsIncreasing(t, made)
}

func powRatio(x, p float64) float64 { return math.Pow(x, p) }
