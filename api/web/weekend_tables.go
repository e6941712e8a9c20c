package web

import (
	"slices"
	"strconv"
	"strings"

	"hotday/api/web/say"
	"hotday/models"
	"hotday/planner/quantity"
)

// table is a part of the plan in rows and columns: what the picture shows, for reading, printing and copying.
type table struct {
	ID      string
	Caption string
	Note    string
	Hourly  bool // long, and drawn in the picture: left out on paper
	Head    []string
	Rows    []tableRow
}

type tableRow struct {
	ID    string
	Cells []string // the first names the row
}

// tables says the plan in words and numbers, every row with its why.
func tables(r models.PlanRequest, plan models.Plan) []table {
	all := []table{batchTable(r, plan), quotaTable(r, plan), waterTable(r, plan), pullTable(r, plan), balanceTable(r, plan), costTable(r, plan), tideTable(r, plan), weatherTable(r)}
	return slices.DeleteFunc(all, func(t table) bool { return len(t.Rows) == 0 })
}

func batchTable(r models.PlanRequest, plan models.Plan) table {
	q := quantity.For(r.Site)
	t := table{ID: "batches", Caption: "Batches", Head: []string{"Start", "What", "In", "Dose", "Brew water", "Cool to", "Ice", "Makes", "Ready", "Use by", "Strength", "Beans", "Why"}}
	for i, b := range plan.Batches {
		cool, ice := "as it comes", "none"
		if b.CoolToBeforeIceC != nil {
			cool = q.Temp(*b.CoolToBeforeIceC)
			if b.BathIceG >= 0.5 {
				cool += ", bath ice " + q.Mass(b.BathIceG)
			}
		}
		if b.IceG >= 0.5 {
			ice = q.Grams(b.IceG)
		}
		lots := strings.ReplaceAll(b.CoffeeLot, "+", " and ")
		if lots == "" {
			lots = "short"
		}
		t.Rows = append(t.Rows, tableRow{"b-" + strconv.Itoa(i), []string{q.At(b.Start), beverageName(r, b.Beverage), b.Brewer, q.Grams(b.DoseG), q.Grams(b.BrewWaterG),
			cool, ice, q.Grams(b.BeverageG) + " at " + q.Temp(b.FinalTempC), q.At(b.Ready), q.At(b.UseBy),
			say.Number(b.ExpectedTDSPct, 2) + " %, yield " + say.Number(b.ExpectedYieldPct, 1) + " %", lots, b.Serves}})
	}
	return t
}

func beverageName(r models.PlanRequest, code string) string {
	for _, b := range r.Beverages {
		if b.Code == code {
			return nameOr(b.Name, b.Code)
		}
	}
	return code
}

func quotaTable(r models.PlanRequest, plan models.Plan) table {
	q := quantity.For(r.Site)
	t := table{ID: "quotas", Caption: "Ice to make", Head: []string{"Day part", "Maker or mould", "Add", "In the bin by", "Loads"},
		Note: "What each must add so that neither this part nor a later one is short, as late as it can be made."}
	for i, quota := range plan.Ice.Quotas {
		var loads []string
		for _, l := range quota.Loads {
			loads = append(loads, "fill "+q.At(l.FillAt)+", take "+q.Grams(l.G)+" "+q.At(l.TakeAt))
		}
		if quota.MakeG < 0.5 && len(loads) == 0 {
			continue
		}
		t.Rows = append(t.Rows, tableRow{"q-" + strconv.Itoa(i), []string{quota.Date.Weekday().String() + ", " + quota.DayPart, quota.Maker, q.Grams(quota.MakeG), q.At(quota.Due), orDash(strings.Join(loads, "; "))}})
	}
	return t
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func waterTable(r models.PlanRequest, plan models.Plan) table {
	q := quantity.For(r.Site)
	t := table{ID: "water", Caption: "Treated water", Head: []string{"Day part", "Draw", "To brew", "For ice", "To rinse", "Left in the tank", "Dose"},
		Note: "Dose food-grade salts only, weighed; never taste the concentrate. The rules of your water supplier and licensed plumber stand above this."}
	for i, w := range plan.Water {
		var dose []string
		for _, d := range w.Dose {
			dose = append(dose, say.Number(d.G, 2)+"\u202fg "+d.Salt)
		}
		t.Rows = append(t.Rows, tableRow{"t-" + strconv.Itoa(i), []string{w.Date.Weekday().String() + ", " + w.DayPart, q.Litres(w.DrawL), q.Litres(w.BrewL), q.Litres(w.IceL),
			q.Litres(w.RinseL), q.Litres(w.TankAfterL), orDash(strings.Join(dose, ", "))}})
	}
	return t
}

func pullTable(r models.PlanRequest, plan models.Plan) table {
	q := quantity.For(r.Site)
	t := table{ID: "pulls", Caption: "Beans to pull", Head: []string{"For", "Coffee", "Lot", "Pull", "From", "By", "Use from"}}
	for i, b := range plan.Pulls {
		t.Rows = append(t.Rows, tableRow{"p-" + strconv.Itoa(i), []string{b.Date.Weekday().String(), b.Coffee, b.Lot, q.Grams(b.G), b.FromPlace, q.At(b.PullBy), q.At(b.UseFrom)}})
	}
	return t
}

func balanceTable(r models.PlanRequest, plan models.Plan) table {
	q := quantity.For(r.Site)
	i := plan.Ice
	return table{ID: "balance", Caption: "Drink ice, all days together", Head: []string{"", "Ice"},
		Note: "What was there and what is made is as much as what is used, melts and is left.",
		Rows: []tableRow{
			{"", []string{"In the bin at first", q.Mass(i.OpeningG)}}, {"", []string{"Made", q.Mass(i.MadeG)}},
			{"", []string{"Stirred into batches", q.Mass(i.StirredInG)}}, {"", []string{"Served in the glass", q.Mass(i.ServedG)}},
			{"", []string{"Melted", q.Mass(i.MeltedG)}}, {"", []string{"Left", q.Mass(i.LeftG)}},
			{"", []string{"Short at the level prepared for", q.Mass(i.ShortG)}}, {"", []string{"Bath ice besides, never served", q.Mass(i.BathG)}},
		}}
}

func costTable(r models.PlanRequest, plan models.Plan) table {
	money := func(x float64) string { return say.Money(x, r.Site.Currency) }
	c := plan.Cost
	return table{ID: "cost", Caption: "What it costs", Head: []string{"", "Cost"},
		Note: "No plan for these numbers can cost less than " + money(c.LowerBound) + ": this one is at most " + say.Number(c.GapPct, 1) + "\u202f% from the best there could be.",
		Rows: []tableRow{
			{"", []string{"Brewing", money(c.Brewing)}}, {"", []string{"Poured away", money(c.Waste)}}, {"", []string{"Loss by age", money(c.Aging)}},
			{"", []string{"Short, as expected", money(c.ShortExpected)}}, {"", []string{"In all", money(c.Total)}},
		}}
}

// tideTable gives the tide hour by hour.
func tideTable(r models.PlanRequest, plan models.Plan) table {
	q := quantity.For(r.Site)
	t := table{ID: "tide", Hourly: true, Caption: "Drink ice in the bin, hour by hour", Head: []string{"At", "As planned", "On one day in ten at most", "On one day in ten at least"}}
	for _, l := range plan.Ice.Levels {
		if l.At.In(q.Location()).Minute() == 0 {
			t.Rows = append(t.Rows, tableRow{"", []string{q.At(l.At), q.Mass(l.G), q.Mass(l.P10G), q.Mass(l.P90G)}})
		}
	}
	return t
}

func weatherTable(r models.PlanRequest) table {
	q := quantity.For(r.Site)
	t := table{ID: "air", Hourly: true, Caption: "Air, hour by hour", Head: []string{"At", "Air", "Humidity"}}
	for _, w := range r.Weather {
		humidity := "–"
		if w.HumidityPct != nil {
			humidity = say.Pct(*w.HumidityPct)
		}
		t.Rows = append(t.Rows, tableRow{"", []string{q.At(w.At), q.Temp(w.TempC), humidity}})
	}
	return t
}
