package web

import (
	"slices"
	"strconv"
	"strings"

	"hotday/api/web/say"
	"hotday/models"
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
	all := []table{batchTable(r, plan), quotaTable(r, plan), waterTable(r, plan), pullTable(r, plan), balanceTable(plan), costTable(r, plan), tideTable(r, plan), weatherTable(r)}
	return slices.DeleteFunc(all, func(t table) bool { return len(t.Rows) == 0 })
}

func batchTable(r models.PlanRequest, plan models.Plan) table {
	loc := r.Site.Location()
	t := table{ID: "batches", Caption: "Batches", Head: []string{"Start", "What", "In", "Dose", "Brew water", "Cool to", "Ice", "Makes", "Ready", "Use by", "Strength", "Beans", "Why"}}
	for i, b := range plan.Batches {
		cool, ice := "as it comes", "none"
		if b.CoolToBeforeIceC != nil {
			cool = say.Temp(*b.CoolToBeforeIceC)
			if b.BathIceG >= 0.5 {
				cool += ", bath ice " + say.Mass(b.BathIceG)
			}
		}
		if b.IceG >= 0.5 {
			ice = say.Grams(b.IceG)
		}
		lots := strings.ReplaceAll(b.CoffeeLot, "+", " and ")
		if lots == "" {
			lots = "short"
		}
		t.Rows = append(t.Rows, tableRow{"b-" + strconv.Itoa(i), []string{say.At(b.Start, loc), beverageName(r, b.Beverage), b.Brewer, say.Grams(b.DoseG), say.Grams(b.BrewWaterG),
			cool, ice, say.Grams(b.BeverageG) + " at " + say.Temp(b.FinalTempC), say.At(b.Ready, loc), say.At(b.UseBy, loc),
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
	loc := r.Site.Location()
	t := table{ID: "quotas", Caption: "Ice to make", Head: []string{"Day part", "Maker or mould", "Add", "In the bin by", "Loads"},
		Note: "What each must add so that neither this part nor a later one is short, as late as it can be made."}
	for i, q := range plan.Ice.Quotas {
		var loads []string
		for _, l := range q.Loads {
			loads = append(loads, "fill "+say.At(l.FillAt, loc)+", take "+say.Grams(l.G)+" "+say.At(l.TakeAt, loc))
		}
		if q.MakeG < 0.5 && len(loads) == 0 {
			continue
		}
		t.Rows = append(t.Rows, tableRow{"q-" + strconv.Itoa(i), []string{q.Date.Weekday().String() + ", " + q.DayPart, q.Maker, say.Grams(q.MakeG), say.At(q.Due, loc), orDash(strings.Join(loads, "; "))}})
	}
	return t
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func waterTable(_ models.PlanRequest, plan models.Plan) table {
	t := table{ID: "water", Caption: "Treated water", Head: []string{"Day part", "Draw", "To brew", "For ice", "To rinse", "Left in the tank", "Dose"},
		Note: "Dose food-grade salts only, weighed; never taste the concentrate. The rules of your water supplier and licensed plumber stand above this."}
	for i, w := range plan.Water {
		var dose []string
		for _, d := range w.Dose {
			dose = append(dose, say.Number(d.G, 2)+"\u202fg "+d.Salt)
		}
		t.Rows = append(t.Rows, tableRow{"t-" + strconv.Itoa(i), []string{w.Date.Weekday().String() + ", " + w.DayPart, say.Litres(w.DrawL), say.Litres(w.BrewL), say.Litres(w.IceL),
			say.Litres(w.RinseL), say.Litres(w.TankAfterL), orDash(strings.Join(dose, ", "))}})
	}
	return t
}

func pullTable(r models.PlanRequest, plan models.Plan) table {
	loc := r.Site.Location()
	t := table{ID: "pulls", Caption: "Beans to pull", Head: []string{"For", "Coffee", "Lot", "Pull", "From", "By", "Use from"}}
	for i, b := range plan.Pulls {
		t.Rows = append(t.Rows, tableRow{"p-" + strconv.Itoa(i), []string{b.Date.Weekday().String(), b.Coffee, b.Lot, say.Grams(b.G), b.FromPlace, say.At(b.PullBy, loc), say.At(b.UseFrom, loc)}})
	}
	return t
}

func balanceTable(plan models.Plan) table {
	i := plan.Ice
	return table{ID: "balance", Caption: "Drink ice, all days together", Head: []string{"", "Ice"},
		Note: "What was there and what is made is as much as what is used, melts and is left.",
		Rows: []tableRow{
			{"", []string{"In the bin at first", say.Mass(i.OpeningG)}}, {"", []string{"Made", say.Mass(i.MadeG)}},
			{"", []string{"Stirred into batches", say.Mass(i.StirredInG)}}, {"", []string{"Served in the glass", say.Mass(i.ServedG)}},
			{"", []string{"Melted", say.Mass(i.MeltedG)}}, {"", []string{"Left", say.Mass(i.LeftG)}},
			{"", []string{"Short at the level prepared for", say.Mass(i.ShortG)}}, {"", []string{"Bath ice besides, never served", say.Mass(i.BathG)}},
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
	loc := r.Site.Location()
	t := table{ID: "tide", Hourly: true, Caption: "Drink ice in the bin, hour by hour", Head: []string{"At", "As planned", "On one day in ten at most", "On one day in ten at least"}}
	for _, l := range plan.Ice.Levels {
		if l.At.In(loc).Minute() == 0 {
			t.Rows = append(t.Rows, tableRow{"", []string{say.At(l.At, loc), say.Mass(l.G), say.Mass(l.P10G), say.Mass(l.P90G)}})
		}
	}
	return t
}

func weatherTable(r models.PlanRequest) table {
	loc := r.Site.Location()
	t := table{ID: "air", Hourly: true, Caption: "Air, hour by hour", Head: []string{"At", "Air", "Humidity"}}
	for _, w := range r.Weather {
		humidity := "–"
		if w.HumidityPct != nil {
			humidity = say.Pct(*w.HumidityPct)
		}
		t.Rows = append(t.Rows, tableRow{"", []string{say.At(w.At, loc), say.Temp(w.TempC), humidity}})
	}
	return t
}
