package picture

import (
	"math"
	"time"

	"hotday/models"
)

var berlin = func() *time.Location {
	loc, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		panic(err)
	}
	return loc
}()

const saturday models.Date = "2026-07-11"

func clock(d models.Date, hour, minute int) time.Time { return d.At(60*hour+minute, berlin) }

// sample is a hand-made plan for a hot weekend: on Saturday the ice runs out at 14:45 in 1 of 10 cases.
func sample() (models.PlanRequest, models.Plan) {
	now := clock("2026-07-10", 15, 0)
	r := models.PlanRequest{From: saturday, Days: 2, Now: now, Seed: 1}
	r.Site = models.Site{Code: "quay", Name: "Example Quay", Timezone: "Europe/Berlin", Currency: "EUR", SlotMin: 15, SetupMin: 60,
		DayParts: []models.DayPart{{Code: "morning", From: "08:00", To: "12:00"}, {Code: "midday", From: "12:00", To: "15:00"}, {Code: "afternoon", From: "15:00", To: "19:00"}},
	}
	for _, day := range []string{"fri", "sat", "sun"} {
		r.Site.Opening = append(r.Site.Opening, models.Opening{Weekday: day, From: "08:00", To: "19:00"})
	}
	r.Beverages = []models.Beverage{{Code: "flash", Name: "Harbour flash", Method: models.Flash}, {Code: "steeped", Name: "Night steep", Method: models.Steeped}}
	r.Brewers = []models.Brewer{{Code: "Left"}, {Code: "Tub"}}
	r.Ice.BinG = 30000
	r.Ice.Makers = []models.IceMaker{{Code: "Maker"}}
	r.Ice.Moulds = []models.MouldSet{{Code: "Large forms"}}
	r.Outages = []models.Outage{{Kind: "brewer", Code: "Left", From: clock("2026-07-12", 7, 0), To: clock("2026-07-12", 12, 0)}}
	for h := range 60 {
		at := now.Add(time.Duration(h) * time.Hour)
		hour := float64(at.In(berlin).Hour())
		r.Weather = append(r.Weather, models.WeatherHour{At: at, TempC: 27 + 7*math.Cos((hour-16)/24*2*math.Pi)})
	}
	p := models.Plan{ComputedAt: now, From: saturday, Days: 2}
	for n := range 2 {
		d := saturday.AddDays(n)
		for i, part := range r.Site.DayParts {
			mid := []float64{42, 96, 71}[i]
			p.Demand = append(p.Demand, models.DemandRange{Date: d, DayPart: part.Code, Drink: "glass", Mean: mid, P10: 0.8 * mid, P50: mid, P90: 1.3 * mid, Prepare: 1.1 * mid, Basis: "the manager's word"})
			p.Ice.Quotas = append(p.Ice.Quotas, models.IceQuota{Date: d, DayPart: part.Code, Maker: "Maker", MakeG: []float64{7200, 3100, 3900}[i], Due: r.Site.DayPartSpan(d, part).To.Add(-30 * time.Minute)})
			p.Water = append(p.Water, models.WaterDraw{Date: d, DayPart: part.Code, DrawL: 18, BrewL: 10, IceL: 7, RinseL: 1})
		}
		p.Ice.Quotas = append(p.Ice.Quotas, models.IceQuota{Date: d, DayPart: "midday", Maker: "Large forms", MakeG: 3600, Due: clock(d, 12, 0),
			Loads: []models.IceLoad{{FillAt: clock(d.AddDays(-1), 19, 0), TakeAt: clock(d, 7, 0), G: 1800}, {FillAt: clock(d, 7, 15), TakeAt: clock(d, 14, 0), G: 1800}}})
		for i, h := range []int{8, 10, 13} {
			start := clock(d, h, 15*i)
			p.Batches = append(p.Batches, models.BatchTask{ID: "b", Date: d, Brewer: "Left", Beverage: "flash", Start: start, IceAt: start.Add(45 * time.Minute),
				Ready: start.Add(time.Hour), UseBy: start.Add(9 * time.Hour), DoseG: 400, BrewWaterG: 4670, IceG: 1170, BeverageG: 5010, State: models.Due})
		}
		p.Pulls = append(p.Pulls, models.BeanPull{Date: d, Coffee: "harbour", Lot: "h-1", G: 2000, FromPlace: "freezer", PullBy: clock(d.AddDays(-1), 18, 0), UseFrom: clock(d, 7, 0)})
	}
	p.Batches = append(p.Batches, models.BatchTask{ID: "s", Date: saturday, Brewer: "Tub", Beverage: "steeped", Start: clock("2026-07-10", 17, 0), StrainAt: clock(saturday, 9, 0),
		Ready: clock(saturday, 9, 30), UseBy: clock("2026-07-12", 9, 30), DoseG: 600, BrewWaterG: 6000, BeverageG: 4740, State: models.Due})
	g := 14000.0
	for at := now; at.Before(clock("2026-07-13", 0, 0)); at = at.Add(15 * time.Minute) {
		hour := at.In(berlin).Hour()
		if hour >= 9 && hour < 18 && at.After(clock(saturday, 0, 0)) {
			g -= 560
		} else if g < 23000 {
			g += 330
		}
		spread := 0.0
		if at.After(clock(saturday, 9, 0)) {
			spread = math.Min(6000, at.Sub(clock(saturday, 9, 0)).Hours()*900)
		}
		p.Ice.Levels = append(p.Ice.Levels, models.IceLevel{At: at, G: math.Max(g, 0), P10G: math.Max(0, g-spread), P90G: g + spread})
	}
	p.Warnings = []models.Warning{
		{Kind: models.WarnIceShort, Grade: models.GradeActNow, At: clock(saturday, 14, 45), Amount: 6000, Unit: "g", ChancePct: 38, Cause: "the maker yields 21 kg a day at 34 °C, not 30"},
		{Kind: models.WarnBeverageShort, Grade: models.GradeActToday, At: clock("2026-07-12", 11, 0), Amount: 1400, Unit: "g", ChancePct: 12, Cause: "Left is out until 12:00"},
		{Kind: models.WarnStockCountOld, Grade: models.GradeNote, At: now, Cause: "the last count is from Thursday"},
	}
	return r, p
}
