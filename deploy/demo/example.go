package demo

import (
	"math"
	"time"

	"hotday/models"
)

// Example returns a small shop's weekend to write over: one coffee, two beverages, three drinks. The weekend begins on a Saturday, and
// the plan is made at six in the evening before. Its numbers are common practice, no source.
func Example(saturday models.Date) models.PlanRequest {
	s := models.NewShop()
	s.Site.Code, s.Site.Name, s.Site.Timezone, s.Site.Currency, s.Site.StoreG = "example", "Example café", "Europe/Berlin", "EUR", 60000
	s.Site.Care, s.Site.WorkMin = nil, nil
	loc := s.Site.Location()
	friday := saturday.AddDays(-1)
	s.Coffees = []models.Coffee{{Code: "House", RestDaysMin: 7, RestDaysMax: 45, ThawH: 12, PackG: 1000, CostPerKg: 2400,
		Lots: []models.BeanLot{{Code: "A1", RoastedOn: saturday.AddDays(-12), Grams: 8000, Place: "shelf"}}}}
	s.Beverages = []models.Beverage{
		{Code: "house-flash", Name: "House flash", Method: models.Flash, Coffee: "House", Ratio: 15, IceShare: 0.25, RetainedRatio: 2.1, MaxYieldPct: 21.8,
			BrewerOutTempC: 82, Bath: true, TargetTempC: 5, SteepTempC: 5, ReadyMin: 40, HoldH: models.NewShopHoldH, TargetTDSPct: 1.36, DisposalCost: 20, AgingCostPerKgPH: 8},
		{Code: "cold-brew", Name: "Cold brew", Method: models.Steeped, Coffee: "House", Ratio: 9, RetainedRatio: 2.1, MaxYieldPct: models.ColdYieldPct,
			BrewerOutTempC: 5, TargetTempC: 5, SteepH: new(14.0), SteepTempC: 4, ReadyMin: 30, HoldH: models.NewShopColdBrewH, TargetTDSPct: 2.17, DisposalCost: 20, AgingCostPerKgPH: 2}}
	s.Drinks = []models.Drink{
		{Code: "iced-house", Name: "Iced house", Price: 450, Uses: []models.Use{{Beverage: "house-flash", G: 200}}, ServingIceG: 140},
		{Code: "iced-house-large", Name: "Iced house, large", Price: 590, Uses: []models.Use{{Beverage: "house-flash", G: 300}}, ServingIceG: 200},
		{Code: "cold-brew-black", Name: "Cold brew, black", Price: 480, Uses: []models.Use{{Beverage: "cold-brew", G: 160}}, ServingIceG: 150}}
	s.Brewers = []models.Brewer{
		{Code: "Left", Beverages: []string{"house-flash"}, MinBeverageG: 1500, MaxBeverageG: 6000, BusyMin: 25, BatchCost: 480},
		{Code: "Steeping tank", Beverages: []string{"cold-brew"}, MinBeverageG: 4000, MaxBeverageG: 12000, BusyMin: 840, BatchCost: 660}}
	s.Ice = models.Ice{OpeningG: 40000, BinG: 45000, BinLossPctPH: 0.6, IceTempC: -3, InletWaterC: 20,
		Makers: []models.IceMaker{{Code: "Bar machine", KgPerDayRated: 90, RatedAirC: 21, RatedWaterC: 10, Treated: true, Plumbed: true, MineralShare: 1}}}
	s.Water = models.Water{TankL: 80, OpeningL: 65, MakeLPerH: 12, RecoveryPct: 50, ContainerL: models.NewShopContainerL,
		Source: models.Ions{CaMgL: 50, MgMgL: 10, NaMgL: 10, KMgL: 2, HCO3MgL: 150}, Target: models.WaterTarget{HardnessMgLCaCO3: 70, AlkalinityMgLCaCO3: 40, MgShare: 0.3},
		Salts: []string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"}}
	s.Costs.TaxPct = new(19.0)
	r := models.PlanRequest{Setup: s, From: saturday, Days: 2, Now: friday.At(18*60, loc), Seed: 1,
		Stock: []models.Stock{{Beverage: "cold-brew", G: 4000, MadeAt: friday.At(9*60, loc)}}}
	for _, day := range []models.Date{saturday, saturday.AddDays(1)} {
		for _, part := range []struct {
			code string
			n    [3]float64
		}{{"morning", [3]float64{12, 5, 8}}, {"midday", [3]float64{22, 8, 12}}, {"afternoon", [3]float64{26, 12, 14}}} {
			for k, d := range s.Drinks {
				r.Demand = append(r.Demand, models.Demand{Date: day, DayPart: part.code, Drink: d.Code, Expected: part.n[k]})
			}
		}
	}
	for at := r.Now; at.Before(saturday.AddDays(2).At(0, loc)); at = at.Add(time.Hour) { // hottest at three in the afternoon
		hour := float64(at.In(loc).Hour())
		r.Weather = append(r.Weather, models.WeatherHour{At: at.In(time.UTC), TempC: math.Round(26.5 + 7.5*math.Cos((hour-15)/24*2*math.Pi))})
	}
	return r
}
