package audit

import (
	"math"
	"time"

	"hotday/models"
)

// A good day, written by hand: one flash batch with a bath, one cold brew, one fill with its concentrates, trays, a look into the ice bin,
// beans, two shifts. Every rule has something to look at in it.

const day = models.Date("2026-07-11") // a Saturday

func at(clock string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", string(day)+" "+clock)
	if err != nil {
		panic(err)
	}
	return t
}

func goodRequest() *models.PlanRequest {
	two, noLoss := 2, 0.0
	r := &models.PlanRequest{From: day, Days: 1, Now: at("06:00")}
	r.Site = models.Site{Code: "quay", Timezone: "UTC", Currency: "EUR", DayParts: []models.DayPart{{Code: "all", From: "08:00", To: "18:00"}},
		Opening: []models.Opening{{Weekday: "sat", From: "08:00", To: "18:00"}}, SetupMin: 120, SlotMin: 15, StartsPerSlot: 1, StoreG: 20000, StoreTempC: 4, MaxHoldH: 24,
		People: []models.OnShift{{Weekday: "sat", From: "06:00", To: "13:00", OnShift: 2}, {Weekday: "sat", From: "13:00", To: "20:00", OnShift: 1}}, ServeMin: 1.5,
		Baths: &two, ScaleG: 1, FoodRules: models.FoodRulesStrictest, IceWells: []models.IceWell{{Code: "well", HoldsG: 8000, CarryMin: 5}}}
	r.Coffees = []models.Coffee{{Code: "dune", RestDaysMin: 7, RestDaysMax: 45, ThawH: 12, PackG: 1000, CostPerKg: 2400, GrinderLossPct: noLoss,
		Lots: []models.BeanLot{{Code: "D1", RoastedOn: "2026-06-25", Grams: 4000, Place: "freezer", FrozenOn: date("2026-07-05")}}}}
	hours, ua := 4.0, 60.0
	r.Beverages = []models.Beverage{
		{Code: "flash", Method: models.Flash, Coffee: "dune", Ratio: 15, IceShare: 0.25, RetainedRatio: 2, MaxYieldPct: 20, BrewerOutTempC: 80, Bath: true, CoolingUAWPerK: &ua, TargetTempC: 5, ReadyMin: 30, HoldH: 8},
		{Code: "steep", Method: models.Steeped, Coffee: "dune", Ratio: 10, RetainedRatio: 2, MaxYieldPct: 20, SteepH: &hours, SteepTempC: 5, TargetTempC: 5, ReadyMin: 60, HoldH: 24}}
	r.Drinks = []models.Drink{{Code: "glass", Price: 420, Uses: []models.Use{{Beverage: "flash", G: 180}}, ServingIceG: 140}}
	r.Brewers = []models.Brewer{{Code: "left", Beverages: []string{"flash"}, MinBeverageG: 1000, MaxBeverageG: 6000, BusyMin: 15},
		{Code: "tank", Beverages: []string{"steep"}, MinBeverageG: 1000, MaxBeverageG: 30000, BusyMin: 300, SizesG: []float64{24600}}}
	r.Ice = models.Ice{OpeningG: 12000, BinG: 20000, IceTempC: -5, InletWaterC: 15, Plain: models.PlainIce{OpeningG: 8000, BinG: 15000},
		Makers: []models.IceMaker{{Code: "cuber", KgPerDayRated: 48, RatedAirC: 21, RatedWaterC: 15, Treated: true, Plumbed: true}},
		Moulds: []models.MouldSet{{Code: "bars", LoadG: 3000, ThicknessMM: 20, Geometry: "slab", Sides: 2, LoadsAtOnce: 1, FreezerAirC: -20, HWM2K: 30, FreezerHeatW: 800, Treated: true},
			{Code: "blocks", LoadG: 3000, ThicknessMM: 20, Geometry: "slab", Sides: 2, LoadsAtOnce: 1, FreezerAirC: -20, HWM2K: 30, FreezerHeatW: 800}}}
	r.Water = models.Water{TankL: 120, OpeningL: 60, MakeLPerH: 10, RecoveryPct: 50, RinseLPerBatch: 1, ContainerL: 20, Source: models.Ions{CaMgL: 80, MgMgL: 10, HCO3MgL: 240},
		Target: models.WaterTarget{HardnessMgLCaCO3: 70, AlkalinityMgLCaCO3: 40}, Salts: []string{"CaCl2.2H2O", "NaHCO3"}}
	for h := 0; h < 24; h++ {
		r.Weather = append(r.Weather, models.WeatherHour{At: at("00:00").Add(time.Duration(h) * time.Hour), TempC: 29})
	}
	return r
}

func date(d models.Date) *models.Date { return &d }

// goodFlash is a batch of 300 g of coffee, 3,380 g of brew water and 1,130 g of ice.
func goodFlash() batch {
	b := batch{ID: "b1", Date: day, Brewer: "left", Beverage: "flash", Start: at("09:00"), IceAt: at("09:30"), Ready: at("09:40"), UseBy: at("17:40"),
		DoseG: 300, BrewWaterG: 3380, IceG: 1130, BrewerOutTempC: 80, IceTempC: -5, BathIceG: 2200, State: models.Due,
		Lots: []models.LotUse{{Lot: "D1", G: 300}}, Cautions: []string{"a", "b", "c", "d", "e", "f"}, CautionCodes: []string{"scald", "glass", "cooling", "ice_food", "bath_ice", "holding"}}
	to, minutes := 38.0, 15.0
	b.CoolToBeforeIceC, b.CoolingMin = &to, &minutes
	b.DissolvedG, b.RetainedG = 60, 600
	b.BeverageG = 3380 + 60 - 600 + 1130
	tds := 100 * 60.0 / 3440 // before the ice
	b.ExpectedTDSPct = tds * 2840 / 3970
	b.FinalTempC = finalOf(2840, 38, 1130, -5)
	return b
}

// finalOf solves the balance of heat by steps of 0.01 °C, a way of its own: 4.19 kJ/kg·K for water is near enough for a tenth of a degree
// only in the middle of the range, so it uses the enthalpies.
func finalOf(brewG, brewC, iceG, iceC float64) float64 {
	best, off := 0.0, math.Inf(1)
	have := brewG*waterKJ(brewC) + iceG*iceKJ(iceC)
	for c := 0.0; c < 40; c += 0.01 {
		if d := math.Abs((brewG+iceG)*waterKJ(c) - have); d < off {
			best, off = c, d
		}
	}
	return best
}

// goodSteep is a cold brew of 3 kg of coffee in 30 L, strained by two people.
func goodSteep() batch {
	return batch{ID: "b2", Date: day, Brewer: "tank", Beverage: "steep", Start: at("08:00"), StrainAt: at("12:00"), Ready: at("13:00"), UseBy: at("13:00").Add(24 * time.Hour),
		DoseG: 3000, BrewWaterG: 30000, BrewerOutTempC: 5, FinalTempC: 5, IceTempC: -5, State: models.Due, DissolvedG: 600, RetainedG: 6000, BeverageG: 24600, ExpectedTDSPct: 100 * 600.0 / 30600,
		Lots: []models.LotUse{{Lot: "D1", G: 3000}}, Cautions: []string{"a", "b"}, CautionCodes: []string{"steeping", "holding"}}
}

// goodMixes are bottles of 1 L for 1 mL a litre: 56 g of CaCl2·2H2O are 38 mg of hardness, 18 g of NaHCO3 11 mg of alkalinity.
func goodMixes() []mix {
	return []mix{{At: at("06:10"), Code: "A", Salts: []models.SaltDose{{Salt: "CaCl2.2H2O", G: 56}}, WaterML: 800, MakesML: 1000, GoodTo: at("06:10").AddDate(0, 0, 7)},
		{At: at("06:20"), Code: "B", Salts: []models.SaltDose{{Salt: "NaHCO3", G: 18}}, WaterML: 800, MakesML: 1000, GoodTo: at("06:20").AddDate(0, 0, 7)}}
}

func goodFill() fill {
	ro, tap := 34.0, 6.0
	return fill{Date: day, DayPart: "all", At: at("07:00"), DrawL: 40, ROL: &ro, TapL: &tap, Concentrates: []concentrate{{"A", 40}, {"B", 40}}, BrewL: 33.38, IceL: 3, TankAfterL: 26,
		Dose: []models.SaltDose{{Salt: "CaCl2.2H2O", G: 2.24}, {Salt: "NaHCO3", G: 0.72}}}
}

func goodPlan() plan {
	flash, steep := goodFlash(), goodSteep()
	p := plan{ComputedAt: at("06:00"), From: day, Days: 1, Batches: []batch{steep, flash}, Water: []fill{goodFill()}, Mixes: goodMixes()}
	p.Summary = summary{Batches: 2, BeverageG: flash.BeverageG + steep.BeverageG, DoseG: 3300, DrinkIceG: 1130 + 5600, TreatedWaterL: 34 + 5 + 2, Servings: 40}
	p.Demand = []models.DemandRange{{Date: day, DayPart: "all", Drink: "glass", Mean: 40, P10: 30, P50: 40, P90: 50, Prepare: 48}}
	p.Ice = icePlan{OpeningG: 12000, MadeG: 8000, StirredInG: 1130, ServedG: 5600, MeltedG: 270, LeftG: 13000, BathG: 2200,
		Levels: []models.IceLevel{{At: at("06:00"), G: 12000, P10G: 11000, P90G: 12500}, {At: at("12:00"), G: 14000, P10G: 12000, P90G: 15000}}}
	p.Ice.Quotas = []quota{{Date: day, DayPart: "all", Maker: "cuber", MakeG: 5000, From: at("06:00"), Due: at("14:00"), Loads: []models.IceLoad{}},
		{Date: day, DayPart: "all", Maker: "bars", MakeG: 3000, From: at("06:00"), Due: at("14:00"), Loads: []models.IceLoad{{FillAt: at("08:30"), TakeAt: at("14:00"), G: 3000}}},
		{Date: day, DayPart: "all", Maker: "blocks", MakeG: 3000, From: at("06:00"), Due: at("14:30"), BathIce: true, Loads: []models.IceLoad{{FillAt: at("08:35"), TakeAt: at("14:30"), G: 3000}}}}
	p.Tank = &tank{OpeningL: 60, MadeL: 50, DrawnL: 34, IceL: 5, RinseL: 2, LeftL: 69, Levels: []tankLevel{{at("06:00"), 60}, {at("20:00"), 69}}}
	p.Pulls = []pull{{Date: day, Coffee: "dune", Lot: "D1", G: 4000, FromPlace: "freezer", PullBy: at("06:30").Add(-24 * time.Hour), UseFrom: at("06:30")}}
	p.Pulls[0].PullBy, p.Pulls[0].UseFrom = at("06:05"), at("06:05")
	p.Pulls[0].FromPlace = "shelf"
	p.Stock = []models.StockPoint{{At: at("06:00"), Beverage: "flash"}, {At: at("06:00"), Beverage: "steep"}, {At: at("09:45"), Beverage: "flash", G: 3970},
		{At: at("13:00"), Beverage: "flash", G: 2000}, {At: at("13:00"), Beverage: "steep", G: 18000}, {At: at("17:30"), Beverage: "flash", G: 300}, {At: at("17:40"), Beverage: "flash", G: 0}}
	p.Left = []lotLeft{{Batch: "b1", Beverage: "flash", UseBy: flash.UseBy, G: 300}}
	e := &expected{Demanded: 40, Sold: 39, Missed: 1, Days: []expectedDrink{{Date: day, Demanded: 40, Sold: 39, Missed: 1}}, Drinks: []expectedDrink{{Drink: "glass", Demanded: 40, Sold: 39, Missed: 1}},
		PouredAwayG: 300, PouredAway: []pouredAway{{Beverage: "flash", G: 300, Cost: 60}}}
	e.Cost.Brewing, e.Cost.Aging, e.Cost.PouredAway, e.Cost.MissedSales, e.Cost.Total = 900, 40, 60, 420, 1420
	p.Expected = e
	w := warning{Kind: models.WarnIceShort, Grade: models.GradeNote, At: at("16:00"), Amount: 4, ChancePct: 50, Cause: "Ice runs out.", Fields: []string{"ice.makers.0.kg_per_day_rated"}, Fixes: make([]fix, 1)}
	w.Fixes[0].Action, w.Fixes[0].Cost = "Buy one bag of ice", 600
	w.Fixes[0].Effect.ChancePct = 5
	p.Warnings = []warning{w}
	p.CautionCodes, p.Cautions = []string{"scald"}, []string{"a"}
	return p
}

// goodChoice leaves a batch to a look: all of it, half, or none.
func goodChoice(b batch) choice {
	c := choice{ID: "look", Date: day, LookAt: at("08:55"), Beverage: b.Beverage, Saves: 40}
	half := b
	half.DoseG, half.BrewWaterG, half.IceG, half.BeverageG = b.DoseG/2, b.BrewWaterG/2, b.IceG/2, b.BeverageG/2
	half.Lots = []models.LotUse{{Lot: b.Lots[0].Lot, G: b.Lots[0].G / 2}}
	low, high := 1000.0, 2000.0
	c.Options = make([]choiceOption, 3)
	c.Options[0] = choiceOption{&low, &b, 0.4}
	c.Options[1] = choiceOption{&high, &half, 0.35}
	c.Options[2].Chance = 0.25
	return c
}

func goodSheet(p *plan) sheet {
	s := sheet{Date: day}
	n := 0
	add := func(clock string, minutes, hands int, station, kind string, codes ...string) *task {
		n++
		t := task{ID: string(rune('a'-1+n)) + "-" + kind, At: at(clock), Until: at(clock).Add(time.Duration(minutes) * time.Minute), Hands: hands, Station: station, Kind: kind, Say: kind, State: models.Due, CautionCodes: codes}
		if len(codes) > 0 {
			t.Caution, t.CautionCode = "care", codes[0]
		}
		s.Tasks = append(s.Tasks, t)
		return &s.Tasks[len(s.Tasks)-1]
	}
	step := func(t *task, i int) *task {
		b := p.Batches[i]
		t.Batch, t.Beverage = &b, b.Beverage
		if t.Kind == models.TaskBrew {
			t.Lots = b.Lots
		}
		return t
	}
	add("06:05", 2, 1, "beans", models.TaskPull).Pulls = p.Pulls
	add("06:10", 10, 1, "water", models.TaskMix, "minerals").Mix = &p.Mixes[0]
	add("06:20", 10, 1, "water", models.TaskMix, "minerals").Mix = &p.Mixes[1]
	add("06:30", 1, 1, "cold store", models.TaskTempLog)
	add("07:00", 10, 1, "water", models.TaskWaterDraw, "minerals").Draw = &p.Water[0]
	add("07:30", 5, 1, "well", models.TaskGet).Well = &wellFill{"well", at("07:30"), 6000}
	step(add("08:00", 5, 1, "tank", models.TaskBrew, "steeping"), 0)
	bars, blocks := p.Ice.Quotas[1], p.Ice.Quotas[2]
	add("08:30", 5, 1, "bars", models.TaskIceFill, "freezer").Quota = &bars
	add("08:35", 5, 1, "blocks", models.TaskIceFill, "bath_ice").Quota = &blocks
	if len(p.Choices) > 0 {
		look := add("08:55", 2, 1, "cold store", models.TaskLook)
		look.Mark, look.Choice, look.Beverage = true, &p.Choices[0], "flash"
	}
	step(add("09:00", 5, 1, "left", models.TaskBrew, "scald"), 1)
	step(add("09:20", 4, 1, "left", models.TaskChill, "scald", "bath_ice", "glass", "cooling"), 1)
	x := step(add("09:40", 5, 1, "left", models.TaskStore, "cooling", "holding"), 1)
	x.Mark = true
	check := quota{Date: day, Maker: "cuber", From: at("06:00"), Due: at("10:30"), LevelG: 9000, Quarters: 2, BinG: 20000}
	add("10:30", 1, 1, "cuber", models.TaskIceCheck, "ice_food").Quota = &check
	step(add("12:00", 40, 2, "tank", models.TaskStrain, "holding"), 0)
	step(add("12:55", 5, 2, "tank", models.TaskStore, "holding"), 0).Mark = true
	add("13:00", 0, 0, "shift", models.TaskHandover)
	add("14:00", 5, 1, "bars", models.TaskIceTake, "ice_food").Quota = &bars
	add("14:30", 5, 1, "blocks", models.TaskIceTake, "bath_ice").Quota = &blocks
	add("16:00", 1, 1, "cold store", models.TaskTempLog)
	d := step(add("17:40", 2, 1, "cold store", models.TaskDiscard, "holding"), 1)
	d.Discard = &models.Discard{Beverage: "flash", G: 300}
	return s
}

// goodPapers are the documents of the good day.
func goodPapers() *Papers {
	p := &Papers{request: goodRequest(), plan: goodPlan()}
	p.sheets = []sheet{goodSheet(&p.plan)}
	p.index()
	return p
}

// leftToTheDay are the documents of the good day with its flash batch left to a look.
func leftToTheDay() *Papers {
	p := &Papers{request: goodRequest(), plan: goodPlan()}
	p.plan.Batches[1].Choice = "look"
	p.plan.Choices = []choice{goodChoice(p.plan.Batches[1])}
	p.sheets = []sheet{goodSheet(&p.plan)}
	p.index()
	return p
}

// chosen changes the day with a choice.
func chosen(change func(p *Papers)) func(p *Papers) {
	return func(p *Papers) {
		*p = *leftToTheDay()
		change(p)
	}
}
