// Package shops draws requests of invented shops for tests: any shop that the rules of a request allow, in one of many moods.
package shops

import (
	"fmt"
	"time"

	"pgregory.net/rapid"

	"hotday/models"
)

// OneOf draws an element.
func OneOf[T any](t *rapid.T, name string, xs ...T) T { return rapid.SampledFrom(xs).Draw(t, name) }

// Number draws a number to one decimal.
func Number(t *rapid.T, name string, lo, hi float64) float64 {
	return float64(rapid.IntRange(int(lo*10), int(hi*10)).Draw(t, name)) / 10
}

// Chance is true once in so many times.
func Chance(t *rapid.T, name string, in int) bool { return rapid.IntRange(1, in).Draw(t, name) == 1 }

func clockAt(minute int) models.Clock {
	minute %= 1440
	return models.Clock(fmt.Sprintf("%02d:%02d", minute/60, minute%60))
}

// Plain draws a request that the rules allow, of a small shop in one of many moods.
func Plain(t *rapid.T) models.PlanRequest {
	r := models.PlanRequest{Setup: models.Setup{Brewers: []models.Brewer{}}}
	r.Site = anySite(t)
	r.Days = rapid.IntRange(1, 2).Draw(t, "days")
	r.From = OneOf(t, "from", models.Date("2026-07-11"), "2026-03-28", "2026-03-29", "2026-10-24", "2026-10-25", "2026-12-31")
	r.Seed = int64(rapid.IntRange(1, 9).Draw(t, "seed"))
	loc := r.Site.Location()
	minute := OneOf(t, "now", -540, -900, 480, 660, 780, 1000) + rapid.IntRange(0, 59).Draw(t, "minute")
	r.Now = r.From.AddDays(OneOf(t, "day", 0, 0, r.Days-1)).At(0, loc).Add(time.Duration(minute) * time.Minute)
	if Chance(t, "far ahead", 20) { // long enough to be planned piece by piece
		r.Now = r.Now.Add(-time.Duration(rapid.IntRange(3, 12).Draw(t, "days ahead")) * 24 * time.Hour)
		r.Days = 4
	}
	anyCoffees(t, &r)
	anyBeverages(t, &r)
	anyDrinks(t, &r)
	anyBrewers(t, &r)
	anyIce(t, &r)
	anyWater(t, &r)
	r.Costs.ShortFactor = OneOf(t, "short factor", 1.0, 1, 0, 3)
	if Chance(t, "service level", 6) {
		level := OneOf(t, "level", 50.0, 90, 99.5, 1)
		r.ServiceLevelPct = &level
	}
	anyDemand(t, &r)
	anyDay(t, &r)
	return r
}

func anySite(t *rapid.T) models.Site {
	s := models.Site{Code: "s", Timezone: OneOf(t, "zone", "Europe/Berlin", "Europe/Berlin", "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "UTC"),
		AltitudeM: OneOf(t, "altitude", 0.0, 400, 3000), Currency: "EUR",
		SetupMin: OneOf(t, "setup", 60.0, 60, 0, 45, 300), SlotMin: OneOf(t, "slot", 30, 30, 15, 60, 20), StartsPerSlot: OneOf(t, "starts", 1, 1, 2, 0),
		StoreG: OneOf(t, "store", 40000.0, 12000, 3000, 0), StoreTempC: OneOf(t, "store temp", 5.0, 4, 7), MaxHoldH: OneOf(t, "max hold", 24.0, 24, 6, 48)}
	open := rapid.IntRange(5, 11).Draw(t, "open") * 60
	length := OneOf(t, "hours", 10*60, 12*60, 16*60, 18*60, 5*60)
	for _, w := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		if !Chance(t, "closed "+w, 12) {
			s.Opening = append(s.Opening, models.Opening{Weekday: w, From: clockAt(open), To: clockAt(open + length)})
		}
	}
	if len(s.Opening) == 0 {
		s.Opening = append(s.Opening, models.Opening{Weekday: "mon", From: clockAt(open), To: clockAt(open + length)})
	}
	anyPeople(t, &s)
	n := rapid.IntRange(1, 4).Draw(t, "parts")
	from := open + OneOf(t, "part offset", 0, 0, 30, -20)
	for i := range n {
		to := from + length/n
		s.DayParts = append(s.DayParts, models.DayPart{Code: fmt.Sprintf("p%d", i), From: clockAt(from), To: clockAt(to)})
		from = to
	}
	return s
}

// anyPeople draws people on shift and vessels for ice baths, or neither.
func anyPeople(t *rapid.T, s *models.Site) {
	s.ServeMin = 1.5
	if Chance(t, "baths", 3) {
		n := OneOf(t, "vessels", 1, 2, 0)
		s.Baths = &n
	}
	if !Chance(t, "people", 2) {
		return
	}
	for _, w := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		from := rapid.IntRange(4, 12).Draw(t, "shift") * 60
		s.People = append(s.People, models.OnShift{Weekday: w, From: clockAt(from), To: clockAt(from + OneOf(t, "shift length", 900, 700, 300)), OnShift: OneOf(t, "on shift", 1.0, 1, 2, 3)})
		if Chance(t, "second", 3) {
			s.People = append(s.People, models.OnShift{Weekday: w, From: clockAt(from + 250), To: clockAt(from + 400), OnShift: 1})
		}
	}
	if Chance(t, "by date", 4) {
		date := OneOf(t, "date", models.Date("2026-07-11"), "2026-03-29", "2026-10-25")
		s.People = append(s.People, models.OnShift{Date: &date, From: "06:10", To: "21:00", OnShift: 1})
	}
	if Chance(t, "work times", 3) {
		s.WorkMin = &models.WorkMin{Brew: 12, BathFlash: 9, BathChilled: 15, Store: 8, Tray: 3, Strain: 20, StrainTakes: OneOf(t, "takes", 20.0, 60), Fill: 5, Get: 2, Count: 5}
	}
}

func anyCoffees(t *rapid.T, r *models.PlanRequest) {
	for c := range rapid.IntRange(1, 3).Draw(t, "coffees") {
		x := models.Coffee{Code: fmt.Sprintf("c%d", c), RestDaysMin: 7, RestDaysMax: 45, ThawH: 12, PackG: OneOf(t, "pack", 1000.0, 250), CostPerKg: 2400,
			GrinderLossPct: OneOf(t, "loss", 0.0, 2)}
		for l := range rapid.IntRange(0, 3).Draw(t, "lots") {
			lot := models.BeanLot{Code: fmt.Sprintf("l%d", l), RoastedOn: r.From.AddDays(-rapid.IntRange(1, 60).Draw(t, "roasted")),
				Grams: Number(t, "grams", 0, 6000), Place: OneOf(t, "place", "shelf", "shelf", "freezer")}
			lot.OpenG = lot.Grams * OneOf(t, "open", 0, 0, 0.1)
			if lot.Place == "freezer" {
				on := lot.RoastedOn.AddDays(3)
				lot.FrozenOn = &on
			}
			x.Lots = append(x.Lots, lot)
		}
		r.Coffees = append(r.Coffees, x)
	}
}

func anyBeverages(t *rapid.T, r *models.PlanRequest) {
	for i := range rapid.IntRange(1, 3).Draw(t, "beverages") {
		b := models.Beverage{Code: fmt.Sprintf("b%d", i), Method: OneOf(t, "method", models.Flash, models.Flash, models.Steeped, models.HotChilled),
			Coffee: r.Coffees[rapid.IntRange(0, len(r.Coffees)-1).Draw(t, "coffee")].Code, Ratio: Number(t, "ratio", 8, 18), RetainedRatio: 2.1, MaxYieldPct: 21.8,
			BrewerOutTempC: Number(t, "out", 60, 99), Bath: Chance(t, "bath", 2), BathTempC: OneOf(t, "bath temp", 0.0, 1, 8), TargetTempC: OneOf(t, "target", 5.0, 7, 3, 0),
			SteepTempC: OneOf(t, "steep temp", 5.0, 20), ReadyMin: OneOf(t, "ready", 30.0, 15, 0, 90), HoldH: OneOf(t, "hold", 8.0, 4, 24, 36, 0.3),
			TargetTDSPct: 1.4, DisposalCost: 20, AgingCostPerKgPH: OneOf(t, "aging", 10.0, 0, 50)}
		switch b.Method {
		case models.Flash:
			b.IceShare = OneOf(t, "ice share", 0.2, 0.4, 0, 0.33)
		case models.Steeped:
			h := OneOf(t, "steep", 12.0, 16, 4, 20)
			b.SteepH = &h
		}
		if Chance(t, "ua", 2) {
			ua := OneOf(t, "ua w/k", 20.0, 60, 3)
			b.CoolingUAWPerK = &ua
		}
		if Chance(t, "rest", 4) {
			rest := min(b.BrewerOutTempC, OneOf(t, "rest temp", 60.0, 40, 20))
			b.RestTempC = &rest
		}
		r.Beverages = append(r.Beverages, b)
	}
}

func anyDrinks(t *rapid.T, r *models.PlanRequest) {
	for d := range rapid.IntRange(1, 4).Draw(t, "drinks") {
		x := models.Drink{Code: fmt.Sprintf("d%d", d), Price: OneOf(t, "price", 420.0, 500, 0), ServingIceG: OneOf(t, "ice", 140.0, 0, 200), WaterG: OneOf(t, "water", 0.0, 0, 60), OtherCost: 20}
		for i := range r.Beverages {
			if !Chance(t, "uses not", 3) {
				x.Uses = append(x.Uses, models.Use{Beverage: r.Beverages[i].Code, G: Number(t, "use", 60, 250)})
			}
		}
		if Chance(t, "dosed", 4) {
			x.Doses = append(x.Doses, models.Dose{Coffee: r.Coffees[0].Code, DoseG: 18})
		}
		r.Drinks = append(r.Drinks, x)
	}
}

func anyBrewers(t *rapid.T, r *models.PlanRequest) {
	for b := range OneOf(t, "brewers", 2, 1, 3, 2, 0) {
		w := models.Brewer{Code: fmt.Sprintf("w%d", b), MinBeverageG: OneOf(t, "min", 500.0, 0, 1500), MaxBeverageG: OneOf(t, "max", 4000.0, 2000, 9000),
			BusyMin: OneOf(t, "busy", 15.0, 10, 40, 720), BatchCost: OneOf(t, "batch cost", 90.0, 0, 400)}
		for i := range r.Beverages {
			if !Chance(t, "makes not", 3) {
				w.Beverages = append(w.Beverages, r.Beverages[i].Code)
			}
		}
		if Chance(t, "sizes", 3) {
			w.SizesG = [][]float64{{w.MaxBeverageG / 2, w.MaxBeverageG}, {2000, 1000}, {700}, {20000}}[rapid.IntRange(0, 3).Draw(t, "sizes of")]
		}
		w.ByHand = Chance(t, "by hand", 5)
		if Chance(t, "max dose", 3) {
			g := OneOf(t, "dose", 300.0, 60, 20)
			w.MaxDoseG = &g
		}
		if Chance(t, "max water", 4) {
			g := OneOf(t, "brew water", 3000.0, 900)
			w.MaxWaterG = &g
		}
		if Chance(t, "available", 4) {
			w.Available = []models.ClockSpan{{From: clockAt(rapid.IntRange(0, 23).Draw(t, "from") * 60), To: clockAt(rapid.IntRange(0, 23).Draw(t, "to")*60 + 30)}}
		}
		r.Brewers = append(r.Brewers, w)
	}
}

func anyIce(t *rapid.T, r *models.PlanRequest) {
	ice := &r.Ice
	*ice = models.Ice{OpeningG: OneOf(t, "opening", 8000.0, 0, 30000), BinG: OneOf(t, "bin", 20000.0, 5000, 0), BinLossPctPH: OneOf(t, "bin loss", 0.5, 0, 5),
		IceTempC: OneOf(t, "ice temp", -5.0, 0, -18), InletWaterC: OneOf(t, "inlet", 15.0, 25)}
	if Chance(t, "bath ice stated", 4) {
		kg := 1.1
		ice.BathIcePerKg = &kg
	}
	for m := range rapid.IntRange(0, 2).Draw(t, "makers") {
		x := models.IceMaker{Code: fmt.Sprintf("m%d", m), KgPerDayRated: OneOf(t, "kg", 30.0, 8, 90), RatedAirC: 21, RatedWaterC: 10, Treated: !Chance(t, "plain", 4), Plumbed: !Chance(t, "by hand", 4),
			MineralShare: OneOf(t, "minerals", 1.0, 0.2), WetShare: OneOf(t, "wet", 0.0, 0.1)}
		if Chance(t, "curve", 3) {
			x.Curve = []models.CurvePoint{{AirC: 20, WaterC: 10, KgPerDay: 40}, {AirC: 32, WaterC: 10, KgPerDay: 30}, {AirC: 20, WaterC: 21, KgPerDay: 34}, {AirC: 32, WaterC: 21, KgPerDay: 25}}
		}
		ice.Makers = append(ice.Makers, x)
	}
	for m := range rapid.IntRange(0, 2).Draw(t, "moulds") {
		ice.Moulds = append(ice.Moulds, models.MouldSet{Code: fmt.Sprintf("f%d", m), LoadG: OneOf(t, "load", 2000.0, 6000, 600, 400), ThicknessMM: OneOf(t, "thickness", 40.0, 20),
			Geometry: OneOf(t, "geometry", "slab", "sphere", "cylinder"), Sides: OneOf(t, "sides", 1, 2), LoadsAtOnce: OneOf(t, "at once", 1, 2), FreezerAirC: -18, HWM2K: 20,
			FreezerHeatW: OneOf(t, "freezer", 200.0, 80), Treated: !Chance(t, "plain mould", 4), MineralShare: 1})
	}
	ice.Plain.OpeningG = OneOf(t, "plain opening", 0.0, 5000)
	ice.Plain.BinG = OneOf(t, "plain bin", 0.0, 8000)
	r.Site.OtherIcePct = OneOf(t, "other ice", 0.0, 0, 15, 40)
	r.Site.RemakePct = OneOf(t, "remakes", 0.0, 0, 4)
	if Chance(t, "well", 4) {
		r.Site.IceWells = []models.IceWell{{Code: "bar", HoldsG: OneOf(t, "well g", 8000.0, 2000, 25000), CarryMin: 5}}
	}
	if Chance(t, "bought", 5) {
		ice.Bought = &models.BoughtIce{BagG: 10000, OrderBy: OneOf(t, "order by", models.Clock(""), "12:00"), BagCost: 600}
	}
	if Chance(t, "counted", 3) {
		at := r.Now.Add(-time.Duration(rapid.IntRange(0, 40).Draw(t, "hours ago")) * time.Hour)
		ice.CountedAt = &at
	}
}

func anyWater(t *rapid.T, r *models.PlanRequest) {
	r.Water = models.Water{TankL: OneOf(t, "tank", 100.0, 20, 0), MakeLPerH: OneOf(t, "make", 10.0, 0, 40), RecoveryPct: 60, RinseLPerBatch: 1,
		IceMakingLossPct: OneOf(t, "making loss", 0.0, 15), Source: models.Ions{CaMgL: 80, MgMgL: 12, NaMgL: 10, KMgL: 2, HCO3MgL: 240},
		Target: models.WaterTarget{HardnessMgLCaCO3: 68, AlkalinityMgLCaCO3: 40, MgShare: 0.3}, Salts: []string{"CaCl2.2H2O", "NaHCO3"}}
	r.Water.OpeningL = r.Water.TankL / 2
	r.Water.ContainerL = OneOf(t, "container", 0.0, 20, 10, 5)
	if Chance(t, "no salts", 6) {
		r.Water.Salts = nil
	}
}

func anyDemand(t *rapid.T, r *models.PlanRequest) {
	scale := OneOf(t, "busy", 2.0, 1, 5, 0.2)
	for d := range r.Days {
		for _, p := range r.Site.DayParts {
			for _, x := range r.Drinks {
				m := OneOf(t, "expected", 12.0, 5, 20, 0, 33, 2.5) * scale
				date := r.From.AddDays(d)
				switch rapid.IntRange(0, 3).Draw(t, "row") {
				case 0:
					r.Demand = append(r.Demand, models.Demand{Date: date, DayPart: p.Code, Drink: x.Code, Expected: m})
				case 1:
					low, high := m*0.7, m*1.5
					r.Demand = append(r.Demand, models.Demand{Date: date, DayPart: p.Code, Drink: x.Code, Expected: m, P10: &low, P90: &high})
				case 2:
					r.Forecast = append(r.Forecast, models.Forecast{Date: date, DayPart: p.Code, Drink: x.Code, Mean: m, Levels: []float64{0.1, 0.5, 0.9},
						Quantiles: []float64{m * 0.6, m * 0.95, m * 1.5}, Basis: "eight same weekdays"})
				}
			}
		}
	}
	if len(r.Demand)+len(r.Forecast) == 0 {
		r.Demand = append(r.Demand, models.Demand{Date: r.From, DayPart: r.Site.DayParts[0].Code, Drink: r.Drinks[0].Code, Expected: 3})
	}
}

// anyDay draws what the day has brought: stock, sales, work under way, outages, hands, events, weather.
func anyDay(t *rapid.T, r *models.PlanRequest) {
	for i := range r.Beverages {
		if Chance(t, "stock", 3) {
			r.Stock = append(r.Stock, models.Stock{Beverage: r.Beverages[i].Code, G: Number(t, "stock g", 0, 5000), MadeAt: r.Now.Add(-time.Duration(rapid.IntRange(0, 20).Draw(t, "age")) * time.Hour)})
		}
	}
	span := func(name string) (time.Time, time.Time) {
		from := r.Now.Add(time.Duration(rapid.IntRange(-120, 2500).Draw(t, name)) * time.Minute)
		return from, from.Add(time.Duration(rapid.IntRange(20, 600).Draw(t, name+" length")) * time.Minute)
	}
	kinds := map[string]string{"tank": ""}
	if len(r.Brewers) > 0 {
		kinds["brewer"] = r.Brewers[0].Code
	}
	if len(r.Ice.Makers) > 0 {
		kinds["maker"] = r.Ice.Makers[0].Code
	}
	if len(r.Ice.Moulds) > 0 {
		kinds["mould"] = r.Ice.Moulds[0].Code
	}
	for _, k := range []string{"brewer", "maker", "mould", "tank"} {
		if code, ok := kinds[k]; ok && Chance(t, "outage "+k, 6) {
			from, to := span("outage " + k)
			r.Outages = append(r.Outages, models.Outage{Kind: k, Code: code, From: from, To: to})
		}
	}
	if Chance(t, "attention", 3) {
		from, to := span("attention")
		r.Attention = append(r.Attention, models.Attention{From: from, To: to, Starts: OneOf(t, "hands", 0, 2)})
	}
	if Chance(t, "event", 3) {
		from, to := span("event")
		r.Events = append(r.Events, models.Event{From: from, To: to, Name: "fair", Closed: Chance(t, "closed", 3), Factor: OneOf(t, "factor", 1.0, 1.4, 0)})
	}
	if len(r.Brewers) > 0 && Chance(t, "under way", 3) {
		AnyUnderWay(t, r)
	}
	if Chance(t, "sold", 3) {
		for _, d := range r.Demand {
			if s := r.Site.DayPartSpan(d.Date, PartOf(r, d.DayPart)); s.From.Before(r.Now) {
				until := r.Now
				if s.To.Before(until) {
					until = s.To
				}
				r.Sold = append(r.Sold, models.Sold{Date: d.Date, DayPart: d.DayPart, Drink: d.Drink, Count: Number(t, "sold n", 0, 30), Until: until})
			}
		}
	}
	if Chance(t, "weather", 2) {
		at := r.Now.Truncate(time.Hour)
		for range rapid.IntRange(1, 60).Draw(t, "weather hours") {
			r.Weather = append(r.Weather, models.WeatherHour{At: at, TempC: Number(t, "air", 15, 38)})
			at = at.Add(time.Hour)
		}
	}
}

// PartOf returns a day part by its code, an empty one if there is none.
func PartOf(r *models.PlanRequest, code string) models.DayPart {
	for _, p := range r.Site.DayParts {
		if p.Code == code {
			return p
		}
	}
	return models.DayPart{}
}

// AnyUnderWay adds fills, a batch and a tray load that are under way or made when the plan is made.
func AnyUnderWay(t *rapid.T, r *models.PlanRequest) {
	if Chance(t, "filled", 2) {
		l := OneOf(t, "filled l", 20.0, 5, 60)
		r.UnderWay = append(r.UnderWay, models.UnderWay{Task: "w1", Kind: models.TaskWaterDraw, State: models.Made, Start: r.Now.Add(-time.Duration(rapid.IntRange(0, 300).Draw(t, "filled ago")) * time.Minute), L: &l})
	}
	w := &r.Brewers[0]
	if len(w.Beverages) > 0 {
		g := Number(t, "under way g", 0, w.MaxBeverageG)
		r.UnderWay = append(r.UnderWay, models.UnderWay{Task: "t1", Kind: models.TaskBrew, State: OneOf(t, "state", models.Started, models.Made),
			Start: r.Now.Add(-time.Duration(rapid.IntRange(0, 300).Draw(t, "began")) * time.Minute), Brewer: &w.Code, Beverage: &w.Beverages[0], BeverageG: &g})
	}
	if len(r.Ice.Moulds) > 0 {
		r.UnderWay = append(r.UnderWay, models.UnderWay{Task: "t2", Kind: OneOf(t, "tray task", models.TaskIceFill, models.TaskIceRefill), State: models.Started,
			Start: r.Now.Add(-time.Duration(rapid.IntRange(0, 300).Draw(t, "filled")) * time.Minute), Mould: &r.Ice.Moulds[0].Code})
	}
}
