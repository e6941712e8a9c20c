package sheet

import (
	"cmp"
	"math"
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// day writes one service day: demand, batches, ice, water, beans.
func (t *textPlan) day(d models.Date) {
	t.line("")
	head := strings.ToUpper(t.date(d))
	if top, ok := t.warmest(d); ok {
		head += t.q.Say("text.up_to", "temp", t.q.Temp(math.Round(top)))
	}
	t.line("%s", head)
	t.demandOf(d)
	t.batchesOf(d)
	t.iceOf(d)
	t.tideOf(d)
	t.waterOf(d)
	t.pullsOf(d)
}

// belongs reports whether what is done on date is written under day d: what must be done before the first day stands there.
func (t *textPlan) belongs(date, d models.Date) bool {
	return date == d || (d == t.plan.From && date < d)
}

func (t *textPlan) warmest(d models.Date) (c float64, known bool) {
	for _, h := range t.req.Weather {
		if models.DateOf(h.At, t.loc) == d && (!known || h.TempC > c) {
			c, known = h.TempC, true
		}
	}
	return c, known
}

// demandOf sums the drinks of each day part. The range is that of the drinks one by one, so it is left to the pages, which can
// say so.
func (t *textPlan) demandOf(d models.Date) {
	var parts []string
	for _, p := range t.req.Site.DayParts {
		sum := 0.0
		for _, row := range t.plan.Demand {
			if row.Date == d && row.DayPart == p.Code {
				sum += row.Mean
			}
		}
		if sum > 0 {
			parts = append(parts, p.Code+" "+say.Number(sum, 0))
		}
	}
	if len(parts) > 0 {
		t.line("  %s", t.q.Say("text.servings", "parts", strings.Join(parts, t.q.Say("said.comma"))))
	}
}

func (t *textPlan) batchesOf(d models.Date) {
	tab := t.table("start", "brewer", "beverage", ">dose", ">pour", ">cool", ">ice", ">makes", "ready", "use_by", ">strength")
	for _, b := range t.plan.Batches {
		if !t.belongs(b.Date, d) {
			continue
		}
		cool, ice := "", ""
		if b.CoolToBeforeIceC != nil {
			cool = t.q.Temp(*b.CoolToBeforeIceC)
		}
		if b.IceG > 0 {
			ice = t.q.Grams(b.IceG)
		}
		start := t.by(b.Start, d)
		if b.State == models.Started || b.State == models.Made {
			start += " " + t.q.Say("text.state."+b.State)
		}
		tab.add(start, b.Brewer, cmp.Or(t.names[b.Beverage], b.Beverage), t.q.Grams(b.DoseG), t.q.Grams(b.BrewWaterG), cool, ice,
			t.q.Grams(b.BeverageG), t.by(b.Ready, d), t.by(b.UseBy, d), percent(b.ExpectedTDSPct, 2))
	}
	t.section("text.brew", tab)
}

func (t *textPlan) section(title string, tab *table) {
	if len(tab.rows) == 0 {
		return
	}
	t.line("")
	t.line("  %s", t.q.Say(title))
	tab.write(t, "    ")
}

func (t *textPlan) iceOf(d models.Date) {
	tab := t.table("bin_by", "from", ">add", "loads")
	for _, q := range t.plan.Ice.Quotas {
		if !t.belongs(q.Date, d) || (q.MakeG < 0.5 && len(q.Loads) == 0) {
			continue
		}
		var loads []string
		for _, l := range q.Loads {
			loads = append(loads, t.q.Say("text.load", "fill", t.by(l.FillAt, d), "take", t.by(l.TakeAt, d)))
		}
		tab.add(t.by(q.Due, d), q.Maker, t.q.Mass(q.MakeG), strings.Join(loads, t.q.Say("said.semicolon")))
	}
	t.section("text.ice", tab)
}

func (t *textPlan) waterOf(d models.Date) {
	tab := t.table("part", ">draw", ">brewing", ">ice", ">rinsing", ">tank", "salts")
	for _, w := range t.plan.Water {
		if !t.belongs(w.Date, d) {
			continue
		}
		var dose []string
		for _, s := range w.Dose {
			dose = append(dose, t.q.Say("text.dose", "salt", s.Salt, "mass", say.Number(s.G, 1)+say.Narrow+"g"))
		}
		tab.add(w.DayPart, t.q.SheetLitres(w.DrawL), t.q.SheetLitres(w.BrewL), t.q.SheetLitres(w.IceL), t.q.SheetLitres(w.RinseL), t.q.SheetLitres(w.TankAfterL), strings.Join(dose, t.q.Say("said.comma")))
	}
	t.section("text.water", tab)
}

func (t *textPlan) pullsOf(d models.Date) {
	tab := t.table("pull_by", "coffee", "lot", ">amount", ">open", "from", "use_from")
	for _, p := range t.plan.Pulls {
		if t.belongs(p.Date, d) {
			tab.add(t.by(p.PullBy, d), p.Coffee, p.Lot, t.q.Grams(p.G), t.openGrams(p), p.FromPlace, t.by(p.UseFrom, d))
		}
	}
	t.section("text.beans", tab)
}

func (t *textPlan) openGrams(p models.BeanPull) string {
	if p.OpenG < 1 {
		return ""
	}
	return t.q.Grams(p.OpenG)
}
