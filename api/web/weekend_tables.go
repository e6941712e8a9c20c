package web

import (
	"slices"
	"strconv"
	"strings"

	"hotday/models"
	"hotday/planner/say"

	"hotday/planner/sheet"
)

// table is a part of the plan as a table: the data of the charts, for reading, printing and copying.
type table struct {
	ID      string
	Caption string
	Note    string
	Hourly  bool // long, and shown in the chart: left out in print
	Head    []string
	Rows    []tableRow
}

type tableRow struct {
	ID    string
	Cells []string // the first is the row's heading
}

// tables returns the plan's non-empty tables.
func tables(r models.PlanRequest, plan models.Plan) []table {
	all := []table{batchTable(r, plan), handsTable(r, plan), quotaTable(r, plan), waterTable(r, plan), pullTable(r, plan), balanceTable(r, plan), expectedTable(r, plan), iceLevelTable(r, plan), weatherTable(r)}
	return slices.DeleteFunc(all, func(t table) bool { return len(t.Rows) == 0 })
}

func batchTable(r models.PlanRequest, plan models.Plan) table {
	q := voiceOf(r.Site)
	t := table{ID: "batches", Caption: q.Say("weekend.table.batches"), Head: []string{q.Say("weekend.head.start"), q.Say("weekend.head.what"), q.Say("weekend.head.in"), q.Say("weekend.head.dose"), q.Say("weekend.head.brew_water"), q.Say("weekend.head.cool_to"), q.Say("weekend.head.ice"), q.Say("weekend.head.makes"), q.Say("weekend.head.ready"), q.Say("weekend.head.use_by"), q.Say("weekend.head.strength"), q.Say("weekend.head.beans"), q.Say("weekend.head.why")},
		Note: q.Say("weekend.note.batches")}
	for i, b := range plan.Batches {
		cool, ice := q.Say("weekend.cell.as_it_comes"), q.Say("weekend.cell.none")
		if b.CoolToBeforeIceC != nil {
			cool = q.Temp(*b.CoolToBeforeIceC)
			if b.BathIceG >= 0.5 {
				cool = q.Say("weekend.cell.bath", "cool", cool, "ice", q.GlanceMass(b.BathIceG))
			}
		}
		if b.IceG >= 0.5 {
			ice = q.ExactMass(b.IceG)
		}
		lots := q.LotCodes(b.Lots)
		if lots == "" {
			lots = q.Say("weekend.cell.short")
		}
		t.Rows = append(t.Rows, tableRow{"b-" + strconv.Itoa(i), []string{q.At(b.Start), beverageName(r.Beverages, b.Beverage), b.Brewer, q.ExactMass(b.DoseG), q.ExactMass(b.BrewWaterG),
			cool, ice, q.Say("weekend.cell.makes", "mass", q.ExactMass(b.BeverageG), "temp", q.Temp(b.FinalTempC)), q.At(b.Ready), q.At(b.UseBy),
			q.Say("weekend.cell.strength", "tds", q.Percent(b.ExpectedTDSPct, 2), "yield", q.Percent(b.ExpectedYieldPct, 1)), lots, strings.TrimSpace(b.Serves + ". " + sheet.OtherwiseText(b.Otherwise, r.Site))}})
	}
	return t
}

func quotaTable(r models.PlanRequest, plan models.Plan) table {
	q := voiceOf(r.Site)
	t := table{ID: "quotas", Caption: q.Say("weekend.table.quotas"), Head: []string{q.Say("weekend.head.day_part"), q.Say("weekend.head.maker_or_mould"), q.Say("weekend.head.add"), q.Say("weekend.head.in_the_bin_by"), q.Say("weekend.head.loads")},
		Note: q.Say("weekend.note.quotas")}
	for i, quota := range plan.Ice.Quotas {
		var loads []string
		for _, l := range quota.Loads {
			loads = append(loads, q.Say("weekend.cell.load", "fill", q.At(l.FillAt), "mass", q.ExactMass(l.G), "take", q.At(l.TakeAt)))
		}
		if quota.MakeG < 0.5 && len(loads) == 0 {
			continue
		}
		t.Rows = append(t.Rows, tableRow{"q-" + strconv.Itoa(i), []string{q.Weekday(quota.Date.At(720, q.Location())) + ", " + quota.DayPart, say.For(r.Site).StationName(quota.Maker, &r.Ice), q.ExactMass(quota.MakeG), q.At(quota.Due), orDash(strings.Join(loads, "; "))}})
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
	q := voiceOf(r.Site)
	t := table{ID: "water", Caption: q.Say("weekend.table.water"), Head: []string{q.Say("weekend.head.fill_by"), q.Say("weekend.head.fill"), q.Say("weekend.head.ro"), q.Say("weekend.head.tap"), q.Say("weekend.head.dose"), q.Say("weekend.head.first_use"), q.Say("weekend.head.left_in_the_tank")},
		Note: q.Say("weekend.note.water")}
	for i, w := range plan.Water {
		at, first, ro, tap := q.Weekday(w.Date.At(720, q.Location()))+", "+w.DayPart, "", "", ""
		var dose []string
		if w.At.IsZero() { // of a version that knew only day parts and grams
			for _, d := range w.Dose {
				dose = append(dose, q.SaltMass(d.G)+" "+d.Salt)
			}
		} else {
			at, first, ro, tap = q.At(w.At), q.At(w.By), q.Volume(w.ROL), q.Volume(w.TapL)
			for _, c := range w.Concentrates {
				dose = append(dose, q.Say("weekend.cell.dose", "ml", q.Typed(strconv.FormatFloat(c.ML, 'f', -1, 64)), "code", c.Code))
			}
		}
		t.Rows = append(t.Rows, tableRow{"t-" + strconv.Itoa(i), []string{at, q.Volume(w.DrawL), orDash(ro), orDash(tap), orDash(strings.Join(dose, ", ")), orDash(first), q.Volume(w.TankAfterL)}})
	}
	return t
}

func pullTable(r models.PlanRequest, plan models.Plan) table {
	q := voiceOf(r.Site)
	t := table{ID: "pulls", Caption: q.Say("weekend.table.pulls"), Head: []string{q.Say("weekend.head.for"), q.Say("weekend.head.coffee"), q.Say("weekend.head.lot"), q.Say("weekend.head.pull"), q.Say("weekend.head.from"), q.Say("weekend.head.by"), q.Say("weekend.head.use_from")},
		Note: q.Say("weekend.note.pulls")}
	for i, b := range plan.Pulls {
		t.Rows = append(t.Rows, tableRow{"p-" + strconv.Itoa(i), []string{q.Weekday(b.Date.At(720, q.Location())), b.Coffee, b.Lot, q.ExactMass(b.G), b.FromPlace, q.At(b.PullBy), q.At(b.UseFrom)}})
	}
	return t
}

func balanceTable(r models.PlanRequest, plan models.Plan) table {
	q := voiceOf(r.Site)
	i := plan.Ice
	return table{ID: "balance", Caption: q.Say("weekend.table.balance"), Head: []string{"", q.Say("weekend.head.ice")},
		Rows: []tableRow{
			{"", []string{q.Say("weekend.row.in_the_bin_at_first"), q.GlanceMass(i.OpeningG)}}, {"", []string{q.Say("weekend.row.made"), q.GlanceMass(i.MadeG)}},
			{"", []string{q.Say("weekend.row.stirred_into_batches"), q.GlanceMass(i.StirredInG)}}, {"", []string{q.Say("weekend.row.served_in_the_glass"), q.GlanceMass(i.ServedG)}},
			{"", []string{q.Say("weekend.row.melted"), q.GlanceMass(i.MeltedG)}}, {"", []string{q.Say("weekend.row.left"), q.GlanceMass(i.LeftG)}},
			{"", []string{q.Say("weekend.row.short_at_the_level_prepared_for"), q.GlanceMass(i.ShortG)}}, {"", []string{q.Say("setup.field.ice.plain"), q.GlanceMass(i.BathG)}},
			{"", []string{q.Say("weekend.row.bath_ice_from_drinks"), q.GlanceMass(i.BathFromDrinksG)}},
		}}
}

// expectedTable is what the simulated days say: drinks, coffee poured away, and money.
func expectedTable(r models.PlanRequest, plan models.Plan) table {
	q := voiceOf(r.Site)
	e := plan.Expected
	money := func(x float64) string { return q.Money(x, r.Site.Currency) }
	t := table{ID: "expected", Caption: q.Say("weekend.table.expected"), Head: []string{"", q.Say("weekend.head.amount"), q.Say("weekend.head.cost")},
		Note: q.Say("weekend.note.expected")}
	row := func(key, amount, cost string, args ...any) {
		t.Rows = append(t.Rows, tableRow{"", []string{q.Say(key, args...), amount, cost}})
	}
	row("weekend.row.drinks_demanded", q.Servings(e.Demanded), "")
	row("weekend.row.drinks_sold", q.Servings(e.Sold), "")
	row("weekend.row.drinks_missed", q.Servings(e.Missed), money(e.Cost.MissedSales))
	for _, p := range e.PouredAway {
		row("weekend.row.poured_away_of", q.GlanceMass(p.G), money(p.Cost), "beverage", beverageName(r.Beverages, p.Beverage))
	}
	row("weekend.row.poured_away", q.GlanceMass(e.PouredAwayG), money(e.Cost.PouredAway))
	row("weekend.row.brewing", "", money(e.Cost.Brewing))
	row("weekend.row.loss_by_age", "", money(e.Cost.Aging))
	row("weekend.row.ice_short", q.GlanceMass(e.IceShortG), "")
	row("weekend.row.in_all", "", money(e.Cost.Total))
	return t
}

// iceLevelTable is the ice level by the hour.
func iceLevelTable(r models.PlanRequest, plan models.Plan) table {
	q := voiceOf(r.Site)
	t := table{ID: "tide", Hourly: true, Caption: q.Say("weekend.table.tide"), Head: []string{q.Say("weekend.head.at"), q.Say("weekend.head.as_planned"), q.Say("weekend.head.on_one_day_in_ten_at_most"), q.Say("weekend.head.on_one_day_in_ten_at_least")}}
	for _, l := range plan.Ice.Levels {
		if l.At.In(q.Location()).Minute() == 0 {
			t.Rows = append(t.Rows, tableRow{"", []string{q.At(l.At), q.GlanceMass(l.G), q.GlanceMass(l.P10G), q.GlanceMass(l.P90G)}})
		}
	}
	return t
}

func weatherTable(r models.PlanRequest) table {
	q := voiceOf(r.Site)
	t := table{ID: "air", Hourly: true, Caption: q.Say("weekend.table.air"), Head: []string{q.Say("weekend.head.at"), q.Say("weekend.head.air"), q.Say("weekend.head.humidity")}}
	for _, w := range r.Weather {
		humidity := "–"
		if w.HumidityPct != nil {
			humidity = q.Percent(*w.HumidityPct, 0)
		}
		t.Rows = append(t.Rows, tableRow{"", []string{q.At(w.At), q.WholeTemp(w.TempC), humidity}})
	}
	return t
}
