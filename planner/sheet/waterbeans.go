package sheet

import (
	"strings"

	"hotday/models"
)

// water adds the fills: before the day part that uses the water begins, the first of a day when people arrive.
func (w *sheetWriter) water() {
	first := map[models.Date]bool{}
	for i := range w.plan.Water {
		d := w.plan.Water[i]
		if d.DrawL < 0.05 && len(d.Dose) == 0 {
			continue
		}
		span, ok := w.partSpan(d.Date, d.DayPart)
		if !ok {
			continue
		}
		at := span.From
		if !first[d.Date] {
			first[d.Date] = true
			if people := w.req.Site.StaffSpans(d.Date); len(people) > 0 && people[0].From.Before(at) {
				at = people[0].From
			}
		}
		if at.Before(w.plan.ComputedAt) {
			at = w.plan.ComputedAt
		}
		t := models.Task{
			ID: taskID(w.req.Site.Code, d.Date, stationWater, models.TaskWaterDraw, d.DayPart),
			At: at, Station: stationWater, Kind: models.TaskWaterDraw, State: models.Due, Draw: &d,
		}
		t.Say = w.Say("sheet.draw", "volume", w.Volume(d.DrawL), "part", w.partName(d.DayPart))
		if salts := w.salts(d.Dose); salts != "" {
			t.Say = w.Say("sheet.draw_dose", "volume", w.Volume(d.DrawL), "part", w.partName(d.DayPart), "salts", salts)
			w.caution(&t, models.CautionMinerals)
		}
		t.Why = w.Say("sheet.why_draw", "brew", w.Volume(d.BrewL), "ice", w.Volume(d.IceL), "rinse", w.Volume(d.RinseL), "tank", w.Volume(d.TankAfterL))
		w.put(w.dateOf(at), t)
	}
}

func (w *sheetWriter) salts(doses []models.SaltDose) string {
	var out []string
	for _, s := range doses {
		if s.G >= 0.05 {
			out = append(out, w.Say("sheet.salt", "mass", w.SaltMass(s.G), "salt", s.Salt))
		}
	}
	return strings.Join(out, w.Say("said.comma"))
}

func (w *sheetWriter) partSpan(d models.Date, part string) (span models.Span, ok bool) {
	for _, p := range w.req.Site.DayParts {
		if p.Code == part {
			return w.req.Site.DayPartSpan(d, p), true
		}
	}
	return models.Span{}, false
}

// pulls adds the beans to take from the shelf or the freezer.
func (w *sheetWriter) pulls() {
	for i := range w.plan.Pulls {
		p := w.plan.Pulls[i]
		if p.G < 0.5 {
			continue
		}
		t := models.Task{
			ID: taskID(w.req.Site.Code, p.Date, stationBeans, models.TaskPull, p.Coffee+" "+p.Lot),
			At: p.PullBy, Station: stationBeans, Kind: models.TaskPull, State: models.Due, Pulls: []models.BeanPull{p}, Pull: &p,
		}
		day := w.DayName(p.Date)
		bags, open := p.G-p.OpenG, ""
		if p.OpenG >= 1 {
			open = w.Say("sheet.open_first", "mass", w.ExactMass(p.OpenG))
		}
		if bags < 1 {
			t.Say = w.Say("sheet.pull_open", "mass", w.ExactMass(p.G), "coffee", p.Coffee, "lot", p.Lot)
			t.Why = w.Say("sheet.why_pull_open", "day", day)
		} else if p.FromPlace == "freezer" {
			t.Say = w.Say("sheet.pull_freezer", "mass", w.ExactMass(bags), "coffee", p.Coffee, "lot", p.Lot, "until", w.Moment(p.UseFrom, p.PullBy)) + open
			t.Why = w.Say("sheet.why_pull_freezer", "day", day)
		} else {
			t.Say = w.Say("sheet.pull", "mass", w.ExactMass(bags), "coffee", p.Coffee, "lot", p.Lot) + open
			t.Why = w.Say("sheet.why_pull", "day", day)
		}
		w.put(w.dateOf(p.PullBy), t)
	}
}
