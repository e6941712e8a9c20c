package models

// A new shop, begun on the pages, starts with the values of this file, and so does the demo. They are common practice, no source,
// where a line does not say otherwise; a shop changes them once it knows its own. The defaults of the API are not these: a request
// without a field keeps its meaning.

// Values of a new shop.
const (
	NewShopOtherIcePct  = 15.0             // of the drinks' ice, for jugs, soft drinks and staff
	NewShopRemakePct    = 4.0              // of the drinks sold, for spills and remakes
	NewShopServeMin     = 1.5              // of one person at bar and till, for a drink
	NewShopOnShift      = 2.0              // people, from set-up before opening to set-up after closing
	NewShopBaths        = 2                // vessels for ice baths
	NewShopContainerL   = 20.0             // of brewing water
	NewShopHoldH        = 10.0             // of flash and hot-chilled coffee, the same day
	NewShopColdBrewH    = 72.0             // of strained cold brew at 5 °C or colder; common practice is 3 to 7 days
	NewShopMaxHoldH     = NewShopColdBrewH // of any beverage: that of cold brew; hot brewed coffee has its own shorter hold
	NewShopHotC         = 30.0             // from here on the condensers of ice machines are cleaned the day before
	NewShopShortFactor  = 0.4              // of a drink's contribution: with one beverage out, most customers choose another drink
	NewShopIceFactor    = 0.8              // with ice out there is no other cold drink to choose, and most leave
	LabourPerHour       = 18.0             // employer's cost of a person, in the main unit of the site's currency
	minutesOfEveryBatch = 10.0             // grinding, rinsing, probe, label and washing up; the work of WorkMin.Brew and WorkMin.Store
)

// NewShop returns the smallest valid set-up, with opening hours, placeholder values and the defaults of a new shop. Code, name, time
// zone and currency are left to fill in.
func NewShop() Setup {
	s := Setup{Coffees: []Coffee{}, Beverages: []Beverage{}, Drinks: []Drink{}, Brewers: []Brewer{}, Supplies: []Supply{}, Costs: NewShopCosts()}
	s.Site = Site{SetupMin: 60, SlotMin: 15, StartsPerSlot: 1, StoreTempC: 5, MaxHoldH: NewShopMaxHoldH, ScaleG: 1,
		OtherIcePct: NewShopOtherIcePct, RemakePct: NewShopRemakePct, ServeMin: NewShopServeMin, Baths: new(NewShopBaths), FoodRules: FoodRulesStrictest,
		Care: NewShopCare("", "", "18:00"), DayParts: []DayPart{
			{Code: "morning", From: "08:00", To: "11:00"}, {Code: "midday", From: "11:00", To: "14:00"}, {Code: "afternoon", From: "14:00", To: "18:00"}}}
	work := DefaultWorkMin()
	s.Site.WorkMin = &work
	for _, day := range []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"} {
		s.Site.Opening = append(s.Site.Opening, Opening{Weekday: day, From: "08:00", To: "18:00"})
	}
	s.Site.People = NewShopPeople(&s.Site)
	s.Ice = Ice{IceTempC: -5, InletWaterC: 20}
	s.Water = Water{RecoveryPct: 100, ContainerL: NewShopContainerL}
	return s
}

// NewShopCosts returns what missed sales cost a new shop; the tax in its prices is left to fill in.
func NewShopCosts() Costs {
	return Costs{ShortFactor: NewShopShortFactor, IceShortFactor: new(NewShopIceFactor)}
}

// NewShopPeople returns NewShopOnShift people on each day of a site's opening hours, from the set-up time before to that after them.
func NewShopPeople(s *Site) (out []OnShift) {
	for _, o := range s.Opening {
		out = append(out, OnShift{Weekday: o.Weekday, Date: o.Date, From: moved(o.From, -s.SetupMin), To: moved(o.To, s.SetupMin), OnShift: NewShopOnShift})
	}
	return out
}

// moved is a clock time some minutes later, within the day.
func moved(c Clock, min float64) Clock {
	m := ((c.Minutes()+int(min))%1440 + 1440) % 1440
	return Clock([]byte{byte('0' + m/600), byte('0' + m/60%10), ':', byte('0' + m%60/10), byte('0' + m%10)})
}

// NewShopCare returns the recurring care of a brewer and an ice machine, named by their stations ("": none), of a shop that closes at a
// time: the brewer daily, ice bin and scoop weekly, water filters and condenser monthly, the condenser also before a hot day, and a
// wind-down on Sunday night.
func NewShopCare(brewer, maker string, closes Clock) []Care {
	hot := NewShopHotC
	return []Care{
		{Code: "brewer", Name: "Clean the brewers", Station: brewer, At: closes, Min: 10},
		{Code: "ice-bin", Name: "Empty, clean and sanitise the ice bin and scoop", Station: maker, Weekday: "mon", At: "08:00", Min: 20},
		{Code: "filters", Name: "Check the water filters, change them if due", EveryDays: 30, At: "09:00", Min: 15},
		{Code: "condenser", Name: "Brush the ice machine's condenser", Station: maker, EveryDays: 30, HotC: &hot, At: "09:00", Min: 15},
		{Code: "wind-down", Name: "Sunday-night wind-down: clear the cold store, run down the ice, write the order", Weekday: "sun", At: closes, Min: 20},
	}
}

// NewShopBatchCost returns the cost of a batch as its labour: the minutes of one person at LabourPerHour. byHandMin is the time that
// somebody stands at the brewer beyond starting it, bathMin that at its ice bath. decimals are those of the currency (EUR: 2); the cost
// is in minor units.
func NewShopBatchCost(byHandMin, bathMin float64, decimals int) float64 {
	cost := (minutesOfEveryBatch + byHandMin + bathMin) / 60 * LabourPerHour
	for range decimals {
		cost *= 10
	}
	return cost
}
