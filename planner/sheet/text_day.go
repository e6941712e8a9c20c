package sheet

import (
	"cmp"
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// day writes a service day: demand, batches, ice, water, beans.
func (t *textPlan) day(d models.Date) {
	t.line("")
	head := strings.ToUpper(t.date(d))
	if top, ok := t.warmest(d); ok {
		head += t.q.Say("text.up_to", "temp", t.q.WholeTemp(top))
	}
	t.line("%s", head)
	t.demandOf(d)
	t.batchesOf(d)
	t.iceOf(d)
	t.iceChart(d)
	t.waterOf(d)
	t.pullsOf(d)
}

// belongs reports whether something on a date is listed under day d. Work before the first day is listed under the first.
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

// demandOf sums the drinks of each day part. The ranges are of single drinks and cannot be summed, so they are left to the pages.
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
			ice = t.q.ExactMass(b.IceG)
		}
		start := t.by(b.Start, d)
		if b.State == models.Started || b.State == models.Made {
			start += " " + t.q.Say("text.state."+b.State)
		}
		tab.add(start, b.Brewer, cmp.Or(t.names[b.Beverage], b.Beverage), t.q.ExactMass(b.DoseG), t.q.ExactMass(b.BrewWaterG), cool, ice,
			t.q.ExactMass(b.BeverageG), t.by(b.Ready, d), t.by(b.UseBy, d), t.q.Percent(b.ExpectedTDSPct, 2))
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
		tab.add(t.by(q.Due, d), t.q.StationName(q.Maker, &t.req.Ice), t.q.GlanceMass(q.MakeG), strings.Join(loads, t.q.Say("said.semicolon")))
	}
	t.section("text.ice", tab)
}

func (t *textPlan) waterOf(d models.Date) {
	tab := t.table("fill_at", ">fill", ">ro", ">tap", "dose", ">tank")
	for i := range t.plan.Water {
		w := &t.plan.Water[i]
		if w.At.IsZero() { // of a version that knew only day parts and grams
			if t.belongs(w.Date, d) {
				tab.add(w.DayPart, t.q.Volume(w.DrawL), "", "", t.salts(w.Dose), t.q.Volume(w.TankAfterL))
			}
			continue
		}
		if !t.belongs(t.req.Site.ServiceDayOf(w.At), d) {
			continue
		}
		var dose []string
		for _, c := range w.Concentrates {
			dose = append(dose, t.q.Say("water.dose", "ml", say.Number(c.ML, decimals(c.ML)), "code", c.Code))
		}
		tab.add(t.by(w.At, d), t.q.Volume(w.DrawL), t.q.Volume(w.ROL), t.q.Volume(w.TapL), strings.Join(dose, t.q.Say("said.comma")), t.q.Volume(w.TankAfterL))
	}
	t.section("text.water", tab)
	mixes := t.table("mix_at", "concentrate", "salts", ">fill_up")
	for _, m := range t.plan.Mixes {
		if t.belongs(t.req.Site.ServiceDayOf(m.At), d) {
			mixes.add(t.by(m.At, d), m.Code, t.salts(m.Salts), say.Number(m.MakesML, 0)+say.NoBreak+"mL")
		}
	}
	t.section("text.mixes", mixes)
}

func (t *textPlan) salts(doses []models.SaltDose) string {
	var out []string
	for _, s := range doses {
		out = append(out, t.q.Say("water.mix_salt", "mass", t.q.SaltMass(s.G), "salt", s.Salt))
	}
	return strings.Join(out, t.q.Say("said.comma"))
}

func (t *textPlan) pullsOf(d models.Date) {
	tab := t.table("pull_by", "coffee", "lot", ">amount", ">open", "from", "use_from")
	for _, p := range t.plan.Pulls {
		if t.belongs(p.Date, d) {
			tab.add(t.by(p.PullBy, d), p.Coffee, p.Lot, t.q.ExactMass(p.G), t.openGrams(p), p.FromPlace, t.by(p.UseFrom, d))
		}
	}
	t.section("text.beans", tab)
}

func (t *textPlan) openGrams(p models.BeanPull) string {
	if p.OpenG < 1 {
		return ""
	}
	return t.q.ExactMass(p.OpenG)
}
