package shops

import (
	"slices"
	"time"

	"pgregory.net/rapid"

	"hotday/models"
)

// Request returns the request of a seed: the same seed gives the same request.
func Request(seed int) models.PlanRequest { return rapid.Custom(Full).Example(seed) }

// Full draws a request as Plain does, of a shop that also says who is on shift, how it weighs, fills and cools, and what its drinks use.
func Full(t *rapid.T) models.PlanRequest {
	r := Plain(t)
	if OneOf(t, "lively", true, true, true, false) {
		lively(t, &r)
	}
	crew(t, &r)
	anyAmounts(t, &r)
	anyWaters(t, &r)
	anyBaths(t, &r)
	anySupplies(t, &r)
	anyRules(t, &r)
	anyRestOfToday(t, &r)
	return r
}

// lively changes what most often keeps a shop from brewing at all: a drink without coffee, a brewer for nothing, no beans, no time.
func lively(t *rapid.T, r *models.PlanRequest) {
	s := &r.Site
	s.StartsPerSlot, s.StoreG, s.SetupMin = max(1, s.StartsPerSlot), max(s.StoreG, 12000), max(s.SetupMin, 45)
	for i := range r.Coffees {
		c := &r.Coffees[i]
		c.Lots = append(c.Lots, models.BeanLot{Code: "fresh", RoastedOn: r.From.AddDays(-OneOf(t, "rested", 14, 20, 30)), Grams: OneOf(t, "fresh beans", 8000.0, 3000, 1200), Place: "shelf"})
	}
	for i := range r.Beverages {
		b := &r.Beverages[i]
		b.HoldH = max(b.HoldH, 4)
		if b.CoolingUAWPerK != nil {
			*b.CoolingUAWPerK = max(*b.CoolingUAWPerK, 20)
		}
	}
	for i := range r.Drinks {
		d := &r.Drinks[i]
		d.Price = max(d.Price, 380)
		if len(d.Uses) == 0 {
			d.Uses = []models.Use{{Beverage: r.Beverages[i%len(r.Beverages)].Code, G: 180}}
		}
	}
	if len(r.Brewers) == 0 {
		r.Brewers = []models.Brewer{{Code: "w0", MinBeverageG: 500, MaxBeverageG: 5000, BusyMin: 15, BatchCost: 90}}
	}
	for i := range r.Brewers {
		w := &r.Brewers[i]
		w.Available = nil
		if w.MaxDoseG != nil {
			*w.MaxDoseG = max(*w.MaxDoseG, 150)
		}
		for k := range r.Beverages {
			if code := r.Beverages[k].Code; !slices.Contains(w.Beverages, code) {
				w.Beverages = append(w.Beverages, code)
			}
		}
	}
	if len(s.OpenSpans(r.From)) == 0 {
		date := r.From
		s.Opening = append(s.Opening, models.Opening{Date: &date, From: "08:00", To: "18:00"})
	}
	if open := s.OpenSpans(r.From); r.Now.After(open[0].From.Add(3*time.Hour)) && r.Days == 1 && len(r.Sold)+len(r.UnderWay)+len(r.Stock) == 0 {
		r.Now = open[0].From.Add(-50 * time.Minute)
	}
	r.Ice.BinG, r.Ice.OpeningG, r.Ice.Plain.OpeningG = max(r.Ice.BinG, 15000), max(r.Ice.OpeningG, 6000), max(r.Ice.Plain.OpeningG, OneOf(t, "bath ice", 0.0, 12000))
	r.Ice.Plain.BinG = max(r.Ice.Plain.BinG, r.Ice.Plain.OpeningG)
	r.Water.TankL = max(r.Water.TankL, 40)
	r.Water.OpeningL, r.Water.MakeLPerH = max(r.Water.OpeningL, 20), max(r.Water.MakeLPerH, 4)
}

// addMinutes is the clock some minutes after another.
func addMinutes(c models.Clock, minutes int) models.Clock {
	return clockAt((c.Minutes() + minutes + 2880) % 1440)
}

// crew puts nobody, one person or a few on shift, from before opening until after closing, in one shift or two.
func crew(t *rapid.T, r *models.PlanRequest) {
	s := &r.Site
	s.ServeMin = OneOf(t, "serve", 1.5, 1.5, 0, 3)
	s.People, s.WorkMin = nil, nil
	if Chance(t, "nobody listed", 3) {
		return
	}
	pad := int(min(s.SetupMin, 120))
	for _, o := range s.Opening {
		from, to := addMinutes(o.From, -pad), addMinutes(o.To, pad)
		length := (o.To.Minutes()-o.From.Minutes()+1440)%1440 + 2*pad
		if length >= 1380 {
			from, to, length = o.From, o.To, length-2*pad
		}
		switch OneOf(t, "shifts", "one", "one", "two", "overlap", "crew", "late") {
		case "one": // one person alone
			s.People = append(s.People, models.OnShift{Weekday: o.Weekday, Date: o.Date, From: from, To: to, OnShift: 1})
		case "two":
			change := addMinutes(from, length/2/30*30)
			s.People = append(s.People, models.OnShift{Weekday: o.Weekday, Date: o.Date, From: from, To: change, OnShift: 2}, models.OnShift{Weekday: o.Weekday, Date: o.Date, From: change, To: to, OnShift: 1})
		case "overlap":
			s.People = append(s.People, models.OnShift{Weekday: o.Weekday, Date: o.Date, From: from, To: addMinutes(from, length*2/3/30*30), OnShift: 1},
				models.OnShift{Weekday: o.Weekday, Date: o.Date, From: addMinutes(from, length/3/30*30), To: to, OnShift: 1})
		case "crew":
			s.People = append(s.People, models.OnShift{Weekday: o.Weekday, Date: o.Date, From: from, To: to, OnShift: 4})
		case "late": // nobody in the set-up time
			s.People = append(s.People, models.OnShift{Weekday: o.Weekday, Date: o.Date, From: o.From, To: o.To, OnShift: 2})
		}
	}
	s.People = slices.DeleteFunc(s.People, func(p models.OnShift) bool { return p.From == p.To })
	if len(s.People) > 0 && s.People[0].Date == nil && Chance(t, "a date's own people", 6) {
		one := s.People[0]
		date := r.From
		one.Weekday, one.Date, one.OnShift = "", &date, 1
		s.People = append(s.People, one)
	}
	if Chance(t, "work times", 4) {
		s.WorkMin = &models.WorkMin{Brew: OneOf(t, "brew work", 5.0, 10), BathFlash: 4, BathChilled: OneOf(t, "bath work", 8.0, 15), Store: 5, Tray: 5, Strain: 12, StrainTakes: 40,
			Fill: OneOf(t, "fill work", 5.0, 8), Get: 2, Count: 5}
	}
}

// anyAmounts chooses batch sizes, the scale and the units that people weigh in.
func anyAmounts(t *rapid.T, r *models.PlanRequest) {
	r.Site.ScaleG = OneOf(t, "scale", 1.0, 1, 0, 0.1, 2, 5)
	if Chance(t, "ounces", 6) {
		r.Site.Units = &models.Units{Temperature: "f", Mass: models.OuncesPounds, Volume: models.FluidOuncesGallons, Clock: models.Clock12, Dates: "month_day"}
	}
	for i := range r.Brewers {
		w := &r.Brewers[i]
		if Chance(t, "sizes", 3) {
			w.SizesG = []float64{max(w.MinBeverageG, w.MaxBeverageG/2), w.MaxBeverageG}
			if w.SizesG[0] == w.SizesG[1] || w.SizesG[0] <= 0 {
				w.SizesG = w.SizesG[1:]
			}
		}
		w.ByHand = Chance(t, "by hand", 5)
	}
}

// anyWaters chooses what brewing water is made of.
func anyWaters(t *rapid.T, r *models.PlanRequest) {
	w := &r.Water
	w.Salts = OneOf(t, "salts", []string{"CaCl2.2H2O", "NaHCO3"}, []string{"CaCl2.2H2O", "MgSO4.7H2O", "NaHCO3"}, []string{"CaCl2.2H2O", "MgCl2.6H2O", "KHCO3"}, []string{})
	if Chance(t, "soft source", 4) {
		w.Source = models.Ions{CaMgL: 12, MgMgL: 2, NaMgL: 5, KMgL: 1, HCO3MgL: 36}
	}
}

// anyBaths chooses ice baths, their ice and how cooling was timed.
func anyBaths(t *rapid.T, r *models.PlanRequest) {
	if !Chance(t, "any number of baths", 3) {
		n := OneOf(t, "baths", 2, 1, 2, 0)
		r.Site.Baths = &n
	}
	if Chance(t, "much plain ice", 3) {
		r.Ice.Plain.OpeningG, r.Ice.Plain.BinG = 30000, 40000
	}
	for i := range r.Beverages {
		if Chance(t, "cooling timed", 5) && r.Beverages[i].CoolingUAWPerK == nil {
			m := OneOf(t, "cooled in", 40.0, 240)
			r.Beverages[i].MeasuredCoolingMin = &m
		}
	}
}

// anySupplies gives drinks milk and cups, counted or not.
func anySupplies(t *rapid.T, r *models.PlanRequest) {
	if !Chance(t, "supplies", 4) {
		return
	}
	stock := OneOf(t, "milk stock", 0.0, 3000)
	r.Supplies = []models.Supply{{Name: "milk", Unit: "g", Pack: 1000, CasePacks: 6, OrderBy: "14:00", LeadDays: 1, KeptIn: "fridge", Stock: &stock, Allergens: []string{"milk"}}, {Name: "cup", Unit: "piece", Pack: 50}}
	for i := range r.Drinks {
		r.Drinks[i].Extras = append(r.Drinks[i].Extras, models.Extra{Name: "cup", Amount: 1, Unit: "piece"})
		if Chance(t, "with milk", 2) {
			r.Drinks[i].Extras = append(r.Drinks[i].Extras, models.Extra{Name: "milk", Amount: 80, Unit: "g"})
		}
	}
}

// anyRules chooses food safety rules, sign-offs and care.
func anyRules(t *rapid.T, r *models.PlanRequest) {
	r.Site.FoodRules = OneOf(t, "food rules", "", models.FoodRulesUS, models.FoodRulesUK, models.FoodRulesEU, models.FoodRulesStrictest)
	if Chance(t, "care", 4) {
		r.Site.Care = []models.Care{{Code: "bin", Name: "Ice bin and scoop", EveryDays: 7, At: "15:00", Min: 20}}
	}
}

// anyRestOfToday adds demand between now and the first planned day, where requests may state it.
func anyRestOfToday(t *rapid.T, r *models.PlanRequest) {
	today := r.Site.ServiceDayOf(r.Now)
	if today >= r.From || !Chance(t, "rest of today", 2) {
		return
	}
	with := *r
	with.Demand = slices.Clone(r.Demand)
	for _, p := range r.Site.DayParts {
		if r.Site.DayPartSpan(today, p).To.After(r.Now.Add(time.Minute)) {
			with.Demand = append(with.Demand, models.Demand{Date: today, DayPart: p.Code, Drink: r.Drinks[0].Code, Expected: OneOf(t, "today", 10.0, 30, 2)})
		}
	}
	if with.Validate() == nil {
		*r = with
	}
}
