package audit

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestNothingIsFoundOnAGoodDay(t *testing.T) {
	t.Parallel()
	assert.Empty(t, goodPapers().Findings())
	assert.Empty(t, leftToTheDay().Findings())
}

// taskOf returns the first task of a kind, at a station if that is not empty.
func (p *Papers) taskOf(kind, station string) *task {
	for _, t := range p.tasks {
		if t.Kind == kind && (station == "" || t.Station == station) {
			return t
		}
	}
	panic("no task " + kind)
}

// without removes the tasks of a kind from the sheet.
func (p *Papers) without(kind string) {
	s := &p.sheets[0]
	s.Tasks = slices.DeleteFunc(s.Tasks, func(t task) bool { return t.Kind == kind })
}

// flash and steep are the batches of the good day.
func (p *Papers) flash() *batch { return &p.plan.Batches[1] }
func (p *Papers) steep() *batch { return &p.plan.Batches[0] }

// everyBatch changes a batch in the plan and wherever a task carries it.
func (p *Papers) everyBatch(id string, change func(b *batch)) {
	for i := range p.plan.Batches {
		if p.plan.Batches[i].ID == id {
			change(&p.plan.Batches[i])
		}
	}
	for _, t := range p.tasks {
		if t.Batch != nil && t.Batch.ID == id {
			change(t.Batch)
		}
	}
}

// move moves a task and keeps the order of the sheet.
func (p *Papers) move(t *task, to string) {
	takes := t.Until.Sub(t.At)
	t.At = at(to)
	t.Until = t.At.Add(takes)
	slices.SortStableFunc(p.sheets[0].Tasks, func(a, b task) int { return a.At.Compare(b.At) })
}

// Each mutation breaks the good day in one way, which its rule must find. also are rules that the same mutation breaks too.
var mutations = []struct {
	name, rule string
	also       []string
	change     func(p *Papers)
}{
	{"water is filled after the brew that uses it", "water.before_use", nil, func(p *Papers) { p.move(p.taskOf(models.TaskWaterDraw, ""), "09:05") }},
	{"the fill is too small for the batches", "water.before_use", []string{"water.sums"}, func(p *Papers) {
		ro, tap := 17.0, 3.0
		f := &p.plan.Water[0]
		f.DrawL, f.ROL, f.TapL, f.Concentrates = 20, &ro, &tap, []concentrate{{"A", 20}, {"B", 20}}
		p.plan.Tank.DrawnL, p.plan.Tank.LeftL, p.plan.Summary.TreatedWaterL = 17, 86, 24
	}},
	{"the first fill is for yesterday", "water.before_use", []string{"people.there", "sheet.order"}, func(p *Papers) { p.move(p.taskOf(models.TaskWaterDraw, ""), "05:00") }},
	{"a fill takes more than the tank holds", "water.in_tank", nil, func(p *Papers) { p.request.Water.OpeningL, p.request.Water.MakeLPerH = 10, 1 }},
	{"a fill has no time", "water.in_tank", []string{"water.mixing"}, func(p *Papers) { p.plan.Water[0].At = time.Time{} }},
	{"the tank's water does not add up", "water.tank_sums", nil, func(p *Papers) { p.plan.Tank.MadeL += 20 }},
	{"the tank runs below empty", "water.tank_sums", nil, func(p *Papers) { p.plan.Tank.Levels[1].L = -3 }},
	{"a plumbed machine's water is not counted", "water.tank_sums", nil, func(p *Papers) {
		p.plan.Tank.IceL, p.plan.Tank.LeftL, p.plan.Summary.TreatedWaterL = 0, 74, 36
	}},
	{"half a litre more than full containers", "water.containers", []string{"sheet.complete"}, func(p *Papers) {
		f := p.plan.Water[0]
		ro, tap := 8.925, 1.575
		f.At, f.DrawL, f.ROL, f.TapL, f.BrewL, f.IceL, f.DrinkL, f.Concentrates = at("07:10"), 10.5, &ro, &tap, 0, 0, 5, []concentrate{{"A", 10.5}, {"B", 10.5}}
		p.plan.Water = append(p.plan.Water, f)
		p.plan.Tank.DrawnL, p.plan.Tank.LeftL, p.plan.Summary.TreatedWaterL = 42.925, 60.075, 49.925
	}},
	{"RO and tap water do not make the fill", "water.recipe", nil, func(p *Papers) { tap := 9.0; p.plan.Water[0].TapL = &tap }},
	{"the tap water for the blend is not stated", "water.recipe", nil, func(p *Papers) { p.plan.Water[0].TapL = nil }},
	{"salts in grams at noon", "water.recipe", nil, func(p *Papers) { p.plan.Water[0].Concentrates = nil }},
	{"half the alkalinity", "water.recipe", nil, func(p *Papers) { p.plan.Water[0].Concentrates[1].ML = 2 }},
	{"too much hardness", "water.recipe", nil, func(p *Papers) { p.plan.Mixes[0].Salts[0].G = 90 }},
	{"a concentrate is mixed after it is used", "water.mixing", nil, func(p *Papers) { p.plan.Mixes[0].At = at("09:00") }},
	{"a fifth of a gram to weigh", "water.mixing", []string{"water.recipe"}, func(p *Papers) { p.plan.Mixes[0].Salts[0].G = 0.2 }},
	{"more bicarbonate than dissolves", "water.mixing", nil, func(p *Papers) {
		p.plan.Mixes[1].Salts[0].G, p.plan.Water[0].Concentrates[1].ML = 90, 8
	}},
	{"calcium and bicarbonate in one bottle", "water.mixing", nil, func(p *Papers) {
		p.plan.Mixes[0].Salts = append(p.plan.Mixes[0].Salts, models.SaltDose{Salt: "NaHCO3", G: 1})
	}},
	{"a concentrate past its date", "water.mixing", nil, func(p *Papers) { p.plan.Mixes[0].GoodTo = at("06:50") }},
	{"water that nothing uses", "water.idle", []string{"water.sums"}, func(p *Papers) { p.plan.Water[0].BrewL, p.plan.Water[0].IceL = 0, 0 }},
	{"water for a closed Sunday", "water.idle", nil, func(p *Papers) {
		p.plan.Water[0].Date, p.plan.Water[0].At = "2026-07-12", at("07:00").AddDate(0, 0, 1)
	}},
	{"fills state more brew water than batches take", "water.sums", nil, func(p *Papers) { p.plan.Water[0].BrewL = 36 }},
	{"the summary leaves ice machines out", "water.sums", nil, func(p *Papers) { p.plan.Summary.TreatedWaterL = 34 }},

	{"a batch has no beans", "beans.enough", nil, func(p *Papers) { p.everyBatch("b1", func(b *batch) { b.Lots = nil }) }},
	{"more beans than the lot holds", "beans.enough", nil, func(p *Papers) { p.request.Coffees[0].Lots[0].Grams = 3200 }},
	{"beans roasted yesterday", "beans.enough", nil, func(p *Papers) {
		l := &p.request.Coffees[0].Lots[0]
		l.RoastedOn, l.Place = "2026-07-10", "shelf"
	}},
	{"lots that do not add up to the dose", "beans.sum", nil, func(p *Papers) { p.flash().Lots = []models.LotUse{{Lot: "D1", G: 250}} }},
	{"beans are got out too late", "beans.got_out", nil, func(p *Papers) { p.plan.Pulls[0].UseFrom = at("08:30") }},
	{"frozen beans do not thaw", "beans.got_out", nil, func(p *Papers) { p.plan.Pulls[0].FromPlace = "freezer" }},

	{"more is brewed where more is left", "choices.options", nil, chosen(func(p *Papers) {
		o := p.plan.Choices[0].Options
		o[0].Batch, o[1].Batch = o[1].Batch, o[0].Batch
		p.plan.Choices[0].Default = 1
	})},
	{"limits that fall", "choices.options", nil, chosen(func(p *Papers) { *p.plan.Choices[0].Options[1].BelowG = 900 })},
	{"a default that the plan does not brew", "choices.options", nil, chosen(func(p *Papers) { p.plan.Choices[0].Default = 1 })},
	{"a choice of one", "choices.options", nil, chosen(func(p *Papers) { p.plan.Choices[0].Options = p.plan.Choices[0].Options[:1] })},
	{"half the coffee with all the water", "choices.sizes", nil, chosen(func(p *Papers) { p.plan.Choices[0].Options[1].Batch.BrewWaterG *= 2 })},
	{"half a batch of all the beans", "choices.sizes", nil, chosen(func(p *Papers) { p.plan.Choices[0].Options[1].Batch.Lots[0].G *= 2 })},
	{"a look after the batch", "choices.look", []string{"choices.sheet"}, chosen(func(p *Papers) { p.plan.Choices[0].LookAt = at("09:30") })},
	{"a beverage looked at twice", "choices.look", nil, chosen(func(p *Papers) { p.plan.Choices = append(p.plan.Choices, p.plan.Choices[0]) })},
	{"a look on no sheet", "choices.sheet", nil, chosen(func(p *Papers) { p.without(models.TaskLook) })},
	{"a look that nobody need answer", "choices.sheet", nil, chosen(func(p *Papers) { p.taskOf(models.TaskLook, "").Mark = false })},
	{"a batch that does not wait for its look", "choices.sheet", nil, chosen(func(p *Papers) { p.taskOf(models.TaskBrew, "left").Batch.Choice = "" })},
	{"ice from nowhere", "ice.balance", nil, func(p *Papers) { p.plan.Ice.LeftG += 500 }},
	{"the batches' ice is not counted", "ice.balance", nil, func(p *Papers) { p.plan.Ice.StirredInG, p.plan.Ice.ServedG = 0, 6730 }},
	{"bath ice is counted twice", "ice.balance", nil, func(p *Papers) { p.plan.Ice.BathG = 4400 }},
	{"a batch takes ice that cannot be there", "ice.batches", nil, func(p *Papers) {
		p.request.Ice.OpeningG, p.plan.Ice.OpeningG, p.plan.Ice.MadeG = 300, 300, 19700
		p.request.Outages = []models.Outage{{Kind: "maker", Code: "cuber", From: at("06:00"), To: at("09:45")}}
		p.plan.Ice.Quotas[0].MakeG = 4000
	}},
	{"more ice than the bin holds", "ice.curve", nil, func(p *Papers) { p.plan.Ice.Levels[1].G = 24000 }},
	{"a look for more than the bin holds", "ice.check", nil, func(p *Papers) {
		p.taskOf(models.TaskIceCheck, "").Quota.LevelG = 33000
		p.plan.Ice.Levels[0].G = 20000
	}},
	{"a look for more than the plan expects", "ice.check", nil, func(p *Papers) { p.taskOf(models.TaskIceCheck, "").Quota.LevelG = 13000 }},
	{"three quarters where just over half is expected", "ice.check", nil, func(p *Papers) { p.taskOf(models.TaskIceCheck, "").Quota.Quarters = 4 }},
	{"a look with nothing to see", "ice.check", nil, func(p *Papers) { p.taskOf(models.TaskIceCheck, "").Quota.LevelG = 0 }},
	{"a span that began yesterday", "ice.check", nil, func(p *Papers) { p.taskOf(models.TaskIceCheck, "").Quota.From = at("06:00").Add(-10 * time.Hour) }},
	{"66 kg from a machine of 48 kg a day", "ice.quota", []string{"water.tank_sums"}, func(p *Papers) { p.plan.Ice.Quotas[0].MakeG = 66000 }},
	{"a well that nobody refills", "ice.wells", nil, func(p *Papers) {
		p.without(models.TaskGet)
		p.request.Site.IceWells[0].HoldsG = 4000
	}},
	{"more ice than the well holds", "ice.wells", nil, func(p *Papers) { p.taskOf(models.TaskGet, "").Well.G = 9000 }},

	{"trays emptied before they are frozen", "trays.freeze", nil, func(p *Papers) { p.plan.Ice.Quotas[1].Loads[0].TakeAt = at("08:50") }},
	{"trays filled while they are full", "trays.freeze", nil, func(p *Papers) {
		q := &p.plan.Ice.Quotas[2]
		q.Loads = append(q.Loads, models.IceLoad{FillAt: at("09:30"), TakeAt: at("16:00"), G: 3000})
	}},
	{"trays of 400 g in the afternoon", "trays.small", nil, func(p *Papers) { p.plan.Ice.Quotas[1].Loads[0].G = 400 }},
	{"trays emptied and filled by two tasks", "trays.one_task", []string{"hands.at_once"}, func(p *Papers) {
		q := p.plan.Ice.Quotas[2]
		q.Loads = []models.IceLoad{{FillAt: at("14:30"), TakeAt: at("17:50"), G: 3000}}
		p.plan.Ice.Quotas[2].Loads = append(p.plan.Ice.Quotas[2].Loads, q.Loads...)
		t := *p.taskOf(models.TaskIceFill, "blocks")
		t.ID, t.Quota, t.At, t.Until = "refill", &q, at("14:30"), at("14:35")
		p.sheets[0].Tasks = append(p.sheets[0].Tasks, t)
		p.move(&p.sheets[0].Tasks[len(p.sheets[0].Tasks)-1], "14:30")
	}},
	{"trays filled at midnight", "trays.there", nil, func(p *Papers) { p.plan.Ice.Quotas[1].Loads[0].TakeAt = at("23:00") }},

	{"ice for baths passes as ice for drinks", "bath.marked", nil, func(p *Papers) { p.plan.Ice.Quotas[2].BathIce = false }},
	{"a tray of bath ice without the caution", "bath.marked", nil, func(p *Papers) {
		t := p.taskOf(models.TaskIceTake, "blocks")
		t.Caution, t.CautionCode, t.CautionCodes = "", "", nil
	}},
	{"a bath with half the ice it needs", "bath.amount", nil, func(p *Papers) {
		p.everyBatch("b1", func(b *batch) { b.BathIceG = 1100 })
		p.plan.Ice.BathG = 1100
	}},
	{"more bath ice than there is", "bath.supply", nil, func(p *Papers) { p.request.Ice.Plain.OpeningG = 0; p.plan.Ice.Quotas = p.plan.Ice.Quotas[:2] }},
	{"two batches in one bath", "bath.vessels", []string{"brewer.free", "water.sums", "amounts.summary", "sheet.steps", "people.attention", "ice.balance"}, func(p *Papers) {
		one := 1
		p.request.Site.Baths = &one
		b := *p.flash()
		b.ID = "b3"
		p.plan.Batches = append(p.plan.Batches, b)
	}},

	{"work after people have left", "people.there", nil, func(p *Papers) { p.move(p.taskOf(models.TaskTempLog, ""), "20:05") }},
	{"hot coffee is ready at night", "people.there", []string{"food.use_by", "amounts.stock"}, func(p *Papers) { p.flash().Ready = at("22:00") }},
	{"a task while nothing begins", "people.attention", nil, func(p *Papers) {
		p.request.Attention = []models.Attention{{From: at("07:25"), To: at("07:40"), Starts: 0}}
	}},
	{"more starts than hands allow", "people.attention", []string{"brewer.free", "water.sums", "water.before_use", "amounts.summary", "sheet.steps", "bath.vessels", "ice.balance"}, func(p *Papers) {
		b := *p.flash()
		b.ID = "b3"
		p.plan.Batches = append(p.plan.Batches, b)
	}},
	{"one person lifts 33 kg", "people.lift", nil, func(p *Papers) { p.taskOf(models.TaskStrain, "").Hands = 1 }},
	{"two marks for a batch", "people.marks", nil, func(p *Papers) { p.taskOf(models.TaskBrew, "left").Mark = true }},
	{"thirty marks", "people.marks", []string{"hands.at_once", "hands.free"}, func(p *Papers) {
		list := p.sheets[0].Tasks
		for range 30 {
			t := list[len(list)-1]
			t.ID, t.Mark, t.Kind, t.Batch, t.Beverage = "clean"+t.ID, true, models.TaskClean, nil, ""
			list = append(list, t)
		}
		p.sheets[0].Tasks = list
	}},
	{"a mark for water", "people.marks", nil, func(p *Papers) { p.taskOf(models.TaskWaterDraw, "").Mark = true }},
	{"no marks at all", "people.marks", nil, func(p *Papers) {
		for _, t := range p.tasks {
			t.Mark = false
		}
	}},
	{"a change of shift without a handover", "people.handover", nil, func(p *Papers) { p.without(models.TaskHandover) }},
	{"a brewer brews two batches at once", "brewer.free", []string{"sheet.steps"}, func(p *Papers) { p.steep().Brewer, p.steep().Start = "left", at("08:50") }},
	{"a brewer that is out of order", "brewer.free", nil, func(p *Papers) {
		p.request.Outages = []models.Outage{{Kind: "brewer", Code: "left", From: at("09:00"), To: at("10:00")}}
	}},
	{"a batch that the brewer cannot hold", "brewer.free", nil, func(p *Papers) { p.request.Brewers[0].MaxBeverageG = 3900 }},
	{"more coffee than the cold store holds", "store.room", nil, func(p *Papers) { p.request.Site.StoreG = 10000 }},

	{"three people where two are on shift", "hands.at_once", nil, func(p *Papers) { p.taskOf(models.TaskPull, "").Hands = 3 }},
	{"more work in an hour than time beside serving", "hands.free", nil, func(p *Papers) {
		t := p.taskOf(models.TaskIceTake, "bars")
		t.Until = t.At.Add(28 * time.Minute)
		p.plan.Demand[0].Mean, p.plan.Summary.Servings, p.plan.Expected.Demanded, p.plan.Expected.Sold = 250, 250, 250, 249
		p.plan.Expected.Days[0].Demanded, p.plan.Expected.Days[0].Sold, p.plan.Expected.Drinks[0].Demanded, p.plan.Expected.Drinks[0].Sold = 250, 249, 250, 249
		x := p.taskOf(models.TaskIceTake, "blocks")
		x.Until = x.At.Add(28 * time.Minute)
	}},

	{"a size that nobody knows", "amounts.size", []string{"sheet.steps"}, func(p *Papers) { p.request.Brewers[1].SizesG = []float64{15000, 30000} }},
	{"a dose of 301.3 g", "amounts.steps", []string{"amounts.mass", "amounts.strength", "amounts.summary", "beans.sum", "sheet.steps"}, func(p *Papers) { p.flash().DoseG = 301.3 }},
	{"water to the gram", "amounts.steps", []string{"amounts.mass", "water.sums", "sheet.steps"}, func(p *Papers) { p.flash().BrewWaterG = 3377 }},
	{"a ratio that rounding does not explain", "amounts.ratio", []string{"amounts.strength", "amounts.mass", "water.sums", "sheet.steps", "amounts.final_temp"}, func(p *Papers) { p.flash().BrewWaterG = 3500 }},
	{"a strength that its amounts do not give", "amounts.strength", nil, func(p *Papers) { p.flash().ExpectedTDSPct += 0.03 }},
	{"a temperature that its ice does not give", "amounts.final_temp", nil, func(p *Papers) { p.flash().FinalTempC += 0.6 }},
	{"beverage from nowhere", "amounts.mass", []string{"amounts.summary", "sheet.steps", "amounts.size"}, func(p *Papers) { p.flash().BeverageG += 40 }},
	{"bath ice to the gram", "amounts.bath_ice", nil, func(p *Papers) {
		p.everyBatch("b1", func(b *batch) { b.BathIceG = 2234 })
		p.plan.Ice.BathG = 2234
	}},
	{"the summary forgets a batch", "amounts.summary", nil, func(p *Papers) { p.plan.Summary.Batches = 1 }},
	{"stock that no batch made", "amounts.stock", nil, func(p *Papers) { p.plan.Stock[3].G, p.plan.Stock[5].G = 1000, 1500 }},

	{"a use-by time beyond the hold time", "food.use_by", nil, func(p *Papers) { p.flash().UseBy = at("19:00") }},
	{"hot coffee cools in a time unknown", "food.unknown_cooling", nil, func(p *Papers) { p.flash().CoolingMin = nil }},
	{"cooling for seven hours without a warning", "food.cooling_slow", nil, func(p *Papers) { m := 430.0; p.flash().CoolingMin = &m }},
	{"a warm store without a warning", "food.lax", nil, func(p *Papers) { p.request.Site.StoreTempC = 7 }},
	{"warm steeping without a warning", "food.lax", nil, func(p *Papers) { p.request.Beverages[1].SteepTempC = 18 }},
	{"a whole batch to discard where a glass is left", "food.discard", nil, func(p *Papers) { p.taskOf(models.TaskDiscard, "").Discard.G = 800 }},
	{"more to discard than the batch made", "food.discard", nil, func(p *Papers) { p.taskOf(models.TaskDiscard, "").Discard.G = 4100; p.plan.Left[0].G = 4100 }},
	{"one reading of the fridge", "food.temp_log", nil, func(p *Papers) {
		s := &p.sheets[0]
		s.Tasks = slices.DeleteFunc(s.Tasks, func(t task) bool { return t.Kind == models.TaskTempLog && t.At.Equal(at("16:00")) })
	}},

	{"hot brewing without the caution", "cautions.kind", nil, func(p *Papers) {
		t := p.taskOf(models.TaskBrew, "left")
		t.CautionCode, t.CautionCodes = "steeping", []string{"steeping"}
	}},
	{"salts without the caution", "cautions.kind", nil, func(p *Papers) {
		t := p.taskOf(models.TaskWaterDraw, "")
		t.Caution, t.CautionCode, t.CautionCodes = "", "", nil
	}},
	{"a batch without its caution", "cautions.kind", []string{"cautions.code"}, func(p *Papers) { p.flash().CautionCodes = p.flash().CautionCodes[1:] }},
	{"a caution without its code", "cautions.code", []string{"cautions.kind"}, func(p *Papers) { p.taskOf(models.TaskStrain, "").CautionCodes = nil }},
	{"another code beside the text", "cautions.code", nil, func(p *Papers) { p.taskOf(models.TaskChill, "").CautionCode = "glass" }},

	{"sold and missed are not the demand", "money.expected", nil, func(p *Papers) { p.plan.Expected.Missed = 9 }},
	{"nothing thrown away, and 300 g of it", "money.expected", nil, func(p *Papers) { p.plan.Expected.Cost.PouredAway = 0; p.plan.Expected.Cost.Total = 1360 }},
	{"a total that its parts do not give", "money.expected", nil, func(p *Papers) { p.plan.Expected.Cost.Total = 900 }},
	{"what to expect is not said", "money.expected", nil, func(p *Papers) { p.plan.Expected = nil }},
	{"simulated days of another shop", "money.demand", []string{"amounts.summary"}, func(p *Papers) { p.plan.Demand[0].Mean = 140 }},
	{"five fixes", "money.fixes", nil, func(p *Papers) {
		w := &p.plan.Warnings[0]
		w.Fixes = []fix{w.Fixes[0], w.Fixes[0], w.Fixes[0], w.Fixes[0], w.Fixes[0]}
	}},
	{"a fix that costs and changes nothing", "money.fixes", nil, func(p *Papers) {
		f := &p.plan.Warnings[0].Fixes[0]
		f.Effect.ChancePct, f.Effect.Amount = 50, 4
	}},
	{"the same warning twice", "money.one_line", nil, func(p *Papers) { p.plan.Warnings = append(p.plan.Warnings, p.plan.Warnings[0]) }},

	{"no sheet for the day", "sheet.days", []string{"sheet.steps", "sheet.complete", "water.before_use", "people.handover", "people.marks", "ice.wells"}, func(p *Papers) { p.sheets = nil }},
	{"a sheet of another day", "sheet.days", []string{"food.temp_log"}, func(p *Papers) { p.sheets[0].Date = "2026-07-12" }},
	{"tasks out of order", "sheet.order", nil, func(p *Papers) { s := p.sheets[0].Tasks; s[2], s[3] = s[3], s[2] }},
	{"a task ends before it begins", "sheet.order", nil, func(p *Papers) { t := p.taskOf(models.TaskGet, ""); t.Until = t.At.Add(-time.Minute) }},
	{"a task that says no end", "sheet.order", nil, func(p *Papers) { p.taskOf(models.TaskGet, "").Until = time.Time{} }},
	{"a task that needs nobody", "sheet.order", nil, func(p *Papers) { p.taskOf(models.TaskGet, "").Hands = 0 }},
	{"two tasks of one id", "sheet.ids", nil, func(p *Papers) { p.tasks[3].ID = p.tasks[2].ID }},
	{"a batch that nobody stores", "sheet.steps", []string{"people.marks"}, func(p *Papers) {
		p.without(models.TaskStore)
	}},
	{"other amounts on the sheet than in the plan", "sheet.steps", nil, func(p *Papers) { p.taskOf(models.TaskBrew, "left").Batch.DoseG = 305 }},
	{"chilled before it is brewed", "sheet.steps", nil, func(p *Papers) { p.move(p.taskOf(models.TaskChill, ""), "08:45") }},
	{"a brew without its beans", "sheet.fields", nil, func(p *Papers) { p.taskOf(models.TaskBrew, "left").Lots = nil }},
	{"a fill without its amounts", "sheet.fields", []string{"water.before_use", "sheet.complete"}, func(p *Papers) { p.taskOf(models.TaskWaterDraw, "").Draw = nil }},
	{"a fill that is on no sheet", "sheet.complete", []string{"water.before_use"}, func(p *Papers) { p.without(models.TaskWaterDraw) }},
	{"a bottle that is on no sheet", "sheet.complete", nil, func(p *Papers) { p.without(models.TaskMix) }},
	{"trays that nobody empties", "sheet.complete", nil, func(p *Papers) { p.without(models.TaskIceTake) }},
	{"beans that are on no sheet", "sheet.complete", nil, func(p *Papers) { p.without(models.TaskPull) }},
}

func TestEachRuleCatchesItsMutations(t *testing.T) {
	t.Parallel()
	caught := map[string]bool{}
	for _, m := range mutations {
		caught[m.rule] = true
		t.Run(m.name, func(t *testing.T) {
			t.Parallel()
			p := goodPapers()
			m.change(p)
			p.index()
			var rules []string
			for _, f := range p.Findings() {
				if !slices.Contains(rules, f.Rule) {
					rules = append(rules, f.Rule)
				}
				t.Log(f)
			}
			require.Contains(t, rules, m.rule)
			for _, r := range rules {
				if r != m.rule {
					assert.Contains(t, m.also, r, "another rule caught it too")
				}
			}
		})
	}
	for _, r := range Rules() {
		assert.True(t, caught[r.Code], "no mutation for %s", r.Code)
	}
}

func TestDocumentsThatCannotBeReadAreFound(t *testing.T) {
	t.Parallel()
	for _, doc := range []string{"{", `{"water":[{"date":"","day_part":"","draw_l":5}]}`, `{"computed_at":"today"}`} {
		found := Audit(goodRequest(), []byte(doc), []byte("[]"))
		require.Len(t, found, 1, doc)
		assert.Equal(t, Readable, found[0].Rule)
	}
}
