package planner

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestEachKindOfWarningComesWhenItsCauseDoes(t *testing.T) {
	t.Parallel()
	h := func(x float64) *float64 { return &x }
	cases := []struct {
		name, kind, field, says string
		change                  func(r *models.PlanRequest)
	}{
		{"ice runs out", models.WarnIceShort, "ice.makers.0.kg_per_day_rated", "kg a day instead of 6", func(r *models.PlanRequest) {
			r.Ice.OpeningG = 2000
			r.Ice.Makers = []models.IceMaker{{Code: "cuber", KgPerDayRated: 6, RatedAirC: 21, RatedWaterC: 10, Treated: true, MineralShare: 1}}
		}},
		{"no bath ice", models.WarnIceShort, "ice.plain", "goes into ice baths", func(r *models.PlanRequest) { r.Ice.Plain = models.PlainIce{} }},
		{"no brewer", models.WarnBeverageShort, "brewers", "no brewer", func(r *models.PlanRequest) { r.Brewers[0].Beverages = nil }},
		{"small brewer", models.WarnBeverageShort, "brewers.0", "can't make more by then", func(r *models.PlanRequest) {
			r.Brewers[0].MinBeverageG, r.Brewers[0].MaxBeverageG, r.Brewers[0].BusyMin = 500, 900, 60
		}},
		{"late start", models.WarnBeverageShort, "site.setup_min", "first batch", func(r *models.PlanRequest) {
			r.Site.SetupMin, r.Beverages[0].ReadyMin = 0, 90
		}},
		{"small store", models.WarnBeverageShort, "site.store_g", "the cold store is full", func(r *models.PlanRequest) { r.Site.StoreG = 150 }},
		{"no hands", models.WarnBeverageShort, "site.starts_per_slot", "", func(r *models.PlanRequest) {
			r.Attention = []models.Attention{{From: r.Now, To: r.Now.Add(8 * time.Hour), Starts: 0}}
		}},
		{"no beans", models.WarnBeansShort, "coffees.0.lots", "runs out", func(r *models.PlanRequest) { r.Coffees[0].Lots[0].Grams = 300 }},
		{"young beans", models.WarnBeansShort, "coffees.0.rest_days_min", "still resting until", func(r *models.PlanRequest) { r.Coffees[0].Lots[0].RoastedOn = "2026-07-09" }},
		{"old beans", models.WarnBeansShort, "coffees.0.rest_days_max", "was good until", func(r *models.PlanRequest) { r.Coffees[0].Lots[0].RoastedOn = "2026-04-09" }},
		{"frozen beans", models.WarnBeansShort, "coffees.0.thaw_h", "thaw in time", func(r *models.PlanRequest) {
			on := models.Date("2026-07-05")
			r.Coffees[0].Lots[0].Place, r.Coffees[0].Lots[0].FrozenOn, r.Now = "freezer", &on, time.Date(2026, 7, 11, 7, 0, 0, 0, r.Site.Location())
		}},
		{"small tank", models.WarnWaterShort, "water.make_l_per_h", "tank", func(r *models.PlanRequest) { r.Water.TankL, r.Water.OpeningL, r.Water.MakeLPerH = 10, 5, 0.1 }},
		{"full bin", models.WarnColdStoreFull, "ice.opening_g", "doesn't fit in the ice bin", func(r *models.PlanRequest) { r.Ice.OpeningG = 70000 }},
		{"basket too small", models.WarnBrewerOverrun, "brewers.0.max_dose_g", "smallest batch", func(r *models.PlanRequest) { r.Brewers[0].MaxDoseG = h(20) }},
		{"span too short", models.WarnBrewerOverrun, "brewers.0.available", "longer than it's ever available", func(r *models.PlanRequest) {
			r.Brewers[0].BusyMin, r.Brewers[0].Available = 90, []models.ClockSpan{{From: "09:00", To: "10:00"}}
		}},
		{"too little ice for hot brew", models.WarnTargetTemp, "beverages.0.ice_share", "cool to", func(r *models.PlanRequest) { r.Beverages[0].Bath = false }},
		{"warm bath", models.WarnTargetTemp, "beverages.0.target_temp_c", "", func(r *models.PlanRequest) {
			r.Beverages[0].Method, r.Beverages[0].IceShare, r.Beverages[0].BathTempC = models.HotChilled, 0, 12
		}},
		{"hold longer than allowed", models.WarnHoldTooLong, "beverages.0.hold_h", "the shop's 24 h", func(r *models.PlanRequest) { r.Beverages[0].HoldH = 30 }},
		{"weak", models.WarnStrengthOff, "beverages.0.target_tds_pct", "target 1.90%", func(r *models.PlanRequest) { r.Beverages[0].TargetTDSPct = 1.9 }},
		{"quiet till", models.WarnSalesSilent, "sold", "No sales counts since", func(r *models.PlanRequest) {
			r.Now = time.Date(2026, 7, 11, 12, 0, 0, 0, r.Site.Location())
			r.Sold = []models.Sold{{Date: r.From, DayPart: "am", Drink: "dune-glass", Count: 9, Until: r.Now.Add(-3 * time.Hour)}}
		}},
		{"old count", models.WarnStockCountOld, "ice.counted_at", "count again", func(r *models.PlanRequest) { at := r.Now.Add(-20 * time.Hour); r.Ice.CountedAt = &at }},
		{"no weather", models.WarnForecastOld, "weather", "assumes a hot day", func(r *models.PlanRequest) { r.Weather = nil }},
		{"old forecast", models.WarnForecastOld, "weather_issued_at", "h old", func(r *models.PlanRequest) { at := r.Now.Add(-50 * time.Hour); r.WeatherIssuedAt = &at }},
		{"only plain ice", models.WarnIceShort, "ice.makers.0.treated", "Never serve", func(r *models.PlanRequest) {
			r.Ice.OpeningG = 0
			r.Ice.Makers = []models.IceMaker{{Code: "flaker", KgPerDayRated: 60, RatedAirC: 21, RatedWaterC: 10, MineralShare: 1}}
		}},
		{"warm steep", models.WarnSteepWarm, "beverages.0.steep_temp_c", "it needs", func(r *models.PlanRequest) {
			b := &r.Beverages[0]
			b.Method, b.SteepH, b.IceShare, b.SteepTempC = models.Steeped, h(6), 0, 20
		}},
		{"slow bath", models.WarnCoolingSlow, "beverages.0.cooling_ua_w_per_k", "2 h", func(r *models.PlanRequest) {
			b := &r.Beverages[0]
			b.Method, b.IceShare, b.CoolingUAWPerK = models.HotChilled, 0, h(2.5)
		}},
		{"stored at seven", models.WarnCoolingSlow, "beverages.0.target_temp_c", "at 7 °C and never", func(r *models.PlanRequest) { r.Beverages[0].TargetTempC = 7 }},
		{"warm store", models.WarnLimitLax, "site.store_temp_c", "your rules say", func(r *models.PlanRequest) { r.Site.StoreTempC = 7 }},
		{"long hold", models.WarnLimitLax, "site.max_hold_h", "your rules say", func(r *models.PlanRequest) { r.Site.MaxHoldH, r.Beverages[0].HoldH = 72, 72 }},
		{"hard water", models.WarnWaterUnsuitable, "water.target", "hardness", func(r *models.PlanRequest) { r.Water.Target.HardnessMgLCaCO3 = 400 }},
		{"no salts for it", models.WarnWaterUnsuitable, "water.salts", "can't reach", func(r *models.PlanRequest) {
			r.Water.Salts, r.Water.Source = nil, models.Ions{CaMgL: 2, HCO3MgL: 6}
		}},
		{"strong brew ratio", models.WarnYieldDoubtful, "beverages.0.ratio", "", func(r *models.PlanRequest) { r.Beverages[0].Ratio, r.Beverages[0].IceShare = 7, 0.2 }},
		{"boils in the hills", models.WarnYieldDoubtful, "site.altitude_m", "water boils at", func(r *models.PlanRequest) { r.Site.AltitudeM, r.Beverages[0].BrewerOutTempC = 2500, 96 }},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := small()
			c.change(&r)
			p := planOfRequest(t, r)
			for _, w := range p.Warnings {
				if w.Kind != c.kind {
					continue
				}
				if slices.Contains(w.Fields, c.field) && strings.Contains(strings.ReplaceAll(w.Cause, "\u202f", " "), c.says) {
					return
				}
			}
			for _, w := range p.Warnings {
				t.Logf("%s %v: %s", w.Kind, w.Fields, w.Cause)
			}
			t.Errorf("no %s that names %s and says %q", c.kind, c.field, c.says)
		})
	}
}

func TestAShortageHasAFixThatEndsIt(t *testing.T) {
	t.Parallel()
	h := func(x float64) *float64 { return &x }
	cases := map[string]struct {
		kind   string
		change func(r *models.PlanRequest)
	}{
		"bath ice": {models.WarnBeverageShort, func(r *models.PlanRequest) {
			r.Ice.Plain, r.Ice.OpeningG, r.Drinks[0].ServingIceG = models.PlainIce{}, 6000, 0
			r.Beverages[0].Method, r.Beverages[0].IceShare, r.Beverages[0].CoolingUAWPerK = models.HotChilled, 0, h(60)
		}},
		"drink ice":  {models.WarnIceShort, func(r *models.PlanRequest) { r.Ice.OpeningG = 9000 }},
		"beans":      {models.WarnBeansShort, func(r *models.PlanRequest) { r.Coffees[0].Lots[0].Grams = 300 }},
		"water":      {models.WarnWaterShort, func(r *models.PlanRequest) { r.Water.TankL, r.Water.OpeningL, r.Water.MakeLPerH = 30, 5, 0.5 }},
		"store":      {models.WarnColdStoreFull, func(r *models.PlanRequest) { r.Ice.OpeningG = 70000 }},
		"basket":     {models.WarnBrewerOverrun, func(r *models.PlanRequest) { r.Brewers[0].MaxDoseG = h(50) }},
		"hot":        {models.WarnTargetTemp, func(r *models.PlanRequest) { r.Beverages[0].Bath = false }},
		"hold":       {models.WarnHoldTooLong, func(r *models.PlanRequest) { r.Beverages[0].HoldH = 30 }},
		"strength":   {models.WarnStrengthOff, func(r *models.PlanRequest) { r.Beverages[0].TargetTDSPct = 1.7 }},
		"warm store": {models.WarnLimitLax, func(r *models.PlanRequest) { r.Site.StoreTempC = 7 }},
		"late":       {models.WarnBeverageShort, func(r *models.PlanRequest) { r.Site.SetupMin, r.Beverages[0].ReadyMin = 0, 45 }},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := small()
			c.change(&r)
			p, err := ComputeWith(context.Background(), r, Options{Budget: 20_000, Days: 200})
			require.NoError(t, err)
			w := warningOf(t, p, c.kind)
			require.NotEmpty(t, w.Fixes, w.Cause)
			best := w.Fixes[0]
			assert.Less(t, best.Effect.ChancePct*best.Effect.Amount, 0.2*w.ChancePct*max(w.Amount, 1e-9)+1e-12, "%s: %s gives %+v", w.Cause, best.Action, best.Effect)
		})
	}
}
