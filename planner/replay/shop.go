package replay

import (
	"fmt"
	"regexp"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/ice"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

// shop is the invented shop of a demand file, sized by the days before the replay only.
//
// Every series is a drink at 4.50, 200 g of beverage over 140 g of ice. In order of their names the drinks alternate between a
// flash brewed, a steeped and a hot-chilled beverage of one coffee at 24.00 a kg. If all series are named like 07-10, they are
// day parts of one drink instead. The shop is open from 08:00 to 20:00, or during its day parts.
//
// Sizes follow the mean day before the replay: two brewers whose largest batches are a half and a third of the day's brewed
// beverages, and whose smallest are a quarter of that; a steeping tank for twice its day; a cold store for one and a half days;
// an ice machine that makes one and a half times the day's ice at 35 °C, and a bin for one day. A batch costs 0.03 minor units
// per gram of the largest.
type shop struct {
	setup       models.Setup
	description string
	byPart      bool
	series      int
}

var dayPartName = regexp.MustCompile(`^([01][0-9]|2[0-3])-([01][0-9]|2[0-4])$`)

const (
	glassG, glassIceG = 200.0, 140.0
	glassPrice        = 450.0
	batchCostPerG     = 0.03
	inletC            = 20.0
)

func (t *demandTable) shop(before int) *shop {
	sh := &shop{series: len(t.series)}
	sh.byPart = !slices.ContainsFunc(t.series, func(n string) bool { return !dayPartName.MatchString(n) || n[:2] >= n[3:] })
	s := &sh.setup
	s.Site = models.Site{Code: "invented", Name: "Invented shop", Timezone: "UTC", AltitudeM: 50, Currency: "EUR",
		DayParts: []models.DayPart{{Code: "day", From: "08:00", To: "20:00"}}, SetupMin: 60, SlotMin: 30, StartsPerSlot: 2, StoreTempC: 4, MaxHoldH: 24}
	if sh.byPart {
		s.Site.DayParts = nil
		for _, n := range t.series {
			s.Site.DayParts = append(s.Site.DayParts, models.DayPart{Code: n, From: models.Clock(n[:2] + ":00"), To: models.Clock(n[3:] + ":00")})
		}
	}
	open := models.Opening{From: s.Site.DayParts[0].From, To: s.Site.DayParts[0].To}
	for _, p := range s.Site.DayParts {
		open.To = max(open.To, p.To)
	}
	for _, d := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		s.Site.Opening = append(s.Site.Opening, models.Opening{Weekday: d, From: open.From, To: open.To})
	}
	s.Coffees = []models.Coffee{{Code: "coffee", RestDaysMin: 7, RestDaysMax: 45, ThawH: 12, PackG: 1000, CostPerKg: 2400,
		Lots: []models.BeanLot{{Code: "lot", RoastedOn: t.first, Grams: plentyG, Place: "shelf"}}}}
	kinds := inventedBeverages()
	daily := make([]float64, len(kinds)) // g
	servings := 0.0
	for i, name := range t.series {
		mean := t.meanOf(name, before)
		servings += mean
		daily[sh.kind(i)] += mean * glassG
		if sh.byPart && i > 0 {
			continue
		}
		k := sh.kind(i)
		s.Drinks = append(s.Drinks, models.Drink{Code: sh.drink(i), Name: sh.drink(i), Price: glassPrice, Uses: []models.Use{{Beverage: kinds[k].Code, G: glassG}}, ServingIceG: glassIceG})
		if !slices.ContainsFunc(s.Beverages, func(b models.Beverage) bool { return b.Code == kinds[k].Code }) {
			s.Beverages = append(s.Beverages, kinds[k])
		}
	}
	sh.size(kinds, daily, servings)
	v, key := say.In(words.English), "replay.csv.drinks"
	if sh.byPart {
		key = "replay.csv.parts"
	}
	sh.description = v.Say(key, "drink", v.ExactMass(glassG), "ice", v.ExactMass(glassIceG), "price", v.Money(glassPrice, s.Site.Currency),
		"servings", say.Number(servings, 0))
	return sh
}

// inventedBeverages are a flash brewed, a steeped and a hot-chilled beverage.
func inventedBeverages() []models.Beverage {
	steep := 12.0
	b := models.Beverage{Coffee: "coffee", RetainedRatio: 2.1, MaxYieldPct: 21.8, BrewerOutTempC: 82, TargetTempC: 5, SteepTempC: 4, DisposalCost: 20}
	flash, steeped, chilled := b, b, b
	flash.Code, flash.Method, flash.Ratio, flash.IceShare, flash.Bath, flash.ReadyMin, flash.HoldH, flash.TargetTDSPct, flash.AgingCostPerKgPH = "flash", models.Flash, 15, 0.25, true, 45, 8, 1.36, 8
	steeped.Code, steeped.Method, steeped.Ratio, steeped.SteepH, steeped.ReadyMin, steeped.HoldH, steeped.TargetTDSPct, steeped.AgingCostPerKgPH = "steeped", models.Steeped, 9, &steep, 30, 24, 2.36, 2
	chilled.Code, chilled.Method, chilled.Ratio, chilled.Bath, chilled.ReadyMin, chilled.HoldH, chilled.TargetTDSPct, chilled.AgingCostPerKgPH = "chilled", models.HotChilled, 15.5, true, 45, 12, 1.39, 6
	return []models.Beverage{flash, steeped, chilled}
}

// size sizes the equipment.
func (sh *shop) size(kinds []models.Beverage, daily []float64, servings float64) {
	s := &sh.setup
	at := func(share, day float64) float64 { return max(100, share*day) }
	brewer := func(code string, max, busy float64, beverages ...string) {
		s.Brewers = append(s.Brewers, models.Brewer{Code: code, Beverages: beverages, MinBeverageG: max / 4, MaxBeverageG: max, BusyMin: busy, BatchCost: max * batchCostPerG})
	}
	var quick []string
	var quickG, stirred, all float64
	for _, b := range s.Beverages {
		k := slices.IndexFunc(kinds, func(x models.Beverage) bool { return x.Code == b.Code })
		all += daily[k]
		if b.Method == models.Steeped {
			brewer("tank", at(2, daily[k]), 720, b.Code)
			continue
		}
		quick, quickG = append(quick, b.Code), quickG+daily[k]
		stirred += daily[k] * b.Ratio * b.IceShare / (b.Ratio + b.MaxYieldPct/100 - b.RetainedRatio)
	}
	if len(quick) > 0 {
		brewer("large", at(1.0/2, quickG), 30, quick...)
		brewer("small", at(1.0/3, quickG), 30, quick...)
	}
	s.Site.StoreG = at(1.5, all)
	day := max(1000, servings*glassIceG+stirred)
	baths := max(day, 2*quickG) // a bath takes about as much ice as there is to cool
	machine := ice.Maker{KgPerDayRated: 1, RatedAirC: ice.DefaultRatedAirC, RatedWaterC: ice.DefaultRatedWaterC}
	rated := 1.5 * day / 1000 / machine.KgPerDay(35, inletC)
	s.Ice = models.Ice{OpeningG: day / 2, BinG: day, BinLossPctPH: 0.6, IceTempC: -3, InletWaterC: inletC,
		Makers: []models.IceMaker{{Code: "maker", KgPerDayRated: rated, RatedAirC: machine.RatedAirC, RatedWaterC: machine.RatedWaterC, Treated: true, MineralShare: 1}},
		Plain:  models.PlainIce{OpeningG: baths, BinG: baths}}
	litres := max(50, 3*(all+servings*glassIceG)/1000)
	s.Water = models.Water{TankL: litres, OpeningL: litres, MakeLPerH: litres / 4, RecoveryPct: 50, Source: models.Ions{CaMgL: 60, MgMgL: 9, NaMgL: 12, KMgL: 2, HCO3MgL: 190},
		Target: models.WaterTarget{HardnessMgLCaCO3: 80, AlkalinityMgLCaCO3: 40, MgShare: 0.3}, Salts: []string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"}}
	s.Costs.ShortFactor = 1
}

// kind is the index of the beverage of series i.
func (sh *shop) kind(i int) int {
	if sh.byPart {
		return 0
	}
	return i % 3
}

func (sh *shop) drink(i int) string {
	if sh.byPart {
		return "drink"
	}
	return fmt.Sprintf("drink-%d", i+1)
}

func (sh *shop) part(i int) string {
	return sh.setup.Site.DayParts[min(i, len(sh.setup.Site.DayParts)-1)].Code
}

// hours are the weather hours of a day part; the first and last part also cover the rest of the day.
func (sh *shop) hours(d models.Date, i int, r *csvRow) []models.WeatherHour {
	p := sh.setup.Site.DayParts[i]
	from, to := p.From.Minutes()/60, p.To.Minutes()/60
	if i == 0 {
		from = 0
	}
	if i == sh.series-1 {
		to = 24
	}
	var out []models.WeatherHour
	for h := from; h < to; h++ {
		out = append(out, models.WeatherHour{At: d.At(h*60, time.UTC), TempC: *r.temp, HumidityPct: r.humidity})
	}
	return out
}

// meanOf is the mean demand of a series on open days before day n.
func (t *demandTable) meanOf(name string, n int) float64 {
	sum, days := 0.0, 0.0
	for i := range n {
		if r := t.rows[name][t.first.AddDays(i)]; r != nil && r.open {
			sum, days = sum+r.demand, days+1
		}
	}
	if days == 0 {
		return 10
	}
	return sum / days
}
