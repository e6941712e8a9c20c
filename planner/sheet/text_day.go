package sheet

import (
	"fmt"
	"strings"

	"hotday/models"
	"hotday/planner/say"
)

// day writes a service day: demand, tasks, ice, water.
func (t *textPlan) day(s models.PrepSheet) {
	t.line("")
	head := strings.ToUpper(t.date(s.Date))
	if top, ok := t.warmest(s.Date); ok {
		head += t.q.Say("text.up_to", "temp", t.q.WholeTemp(top))
	}
	t.line("%s", head)
	t.demandOf(s.Date)
	t.line("")
	for _, task := range s.Lines() {
		t.paragraph(fmt.Sprintf("  %-9s  ", t.by(task.At, s.Date)), task.Say)
	}
	t.iceChart(s.Date)
	t.waterOf(s.Date)
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

func (t *textPlan) section(title string, tab *table) {
	if len(tab.rows) == 0 {
		return
	}
	t.line("")
	t.line("  %s", t.q.Say(title))
	tab.write(t, "    ")
}

// waterOf lists the fills and the concentrates to mix.
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
			dose = append(dose, t.q.Say("water.dose", "ml", t.q.Number(c.ML, decimals(c.ML)), "code", c.Code))
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
