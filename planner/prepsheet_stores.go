package planner

import (
	"fmt"
	"strings"

	"hotday/models"
)

// water writes the draws: before the day part begins in which the water is used, the day's first within the set-up time.
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
			if people := w.req.Site.PeopleSpans(d.Date); len(people) > 0 && people[0].From.Before(at) {
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
		t.Say = fmt.Sprintf("Draw %s of treated water for %s.", sheetLitres(d.DrawL), w.partName(d.DayPart))
		if salts := saltList(d.Dose); salts != "" {
			t.Say = fmt.Sprintf("Draw %s of water for %s and dose it: %s.", sheetLitres(d.DrawL), w.partName(d.DayPart), salts)
			t.Caution = careMinerals
		}
		t.Why = fmt.Sprintf("%s to brew, %s for ice, %s to rinse; the tank then holds %s.", sheetLitres(d.BrewL), sheetLitres(d.IceL), sheetLitres(d.RinseL), sheetLitres(d.TankAfterL))
		w.put(w.page(at), t)
	}
}

func saltList(doses []models.SaltDose) string {
	var out []string
	for _, s := range doses {
		if s.G >= 0.005 {
			out = append(out, sheetSalt(s.G)+" "+s.Salt)
		}
	}
	return strings.Join(out, ", ")
}

func (w *sheetWriter) partSpan(d models.Date, part string) (span models.Span, ok bool) {
	for _, p := range w.req.Site.DayParts {
		if p.Code == part {
			return w.req.Site.PartSpan(d, p), true
		}
	}
	return models.Span{}, false
}

// pulls writes the beans to take out of store.
func (w *sheetWriter) pulls() {
	for i := range w.plan.Pulls {
		p := w.plan.Pulls[i]
		if p.G < 0.5 {
			continue
		}
		t := models.Task{
			ID: taskID(w.req.Site.Code, p.Date, stationBeans, models.TaskPull, p.Coffee+" "+p.Lot),
			At: p.PullBy, Station: stationBeans, Kind: models.TaskPull, State: models.Due, Pull: &p,
		}
		day := p.Date.Weekday().String()
		packs, open := p.G-p.OpenG, ""
		if p.OpenG >= 1 {
			open = fmt.Sprintf(" Use up the %s in the open pack first.", sheetGrams(p.OpenG))
		}
		if packs < 1 {
			t.Say = fmt.Sprintf("Use %s out of the open pack of %s, lot %s.", sheetGrams(p.G), p.Coffee, p.Lot)
			t.Why = fmt.Sprintf("%s uses it; open packs come first.", day)
		} else if p.FromPlace == "freezer" {
			t.Say = fmt.Sprintf("Take %s of %s, lot %s, out of the freezer; keep it closed until %s.", sheetGrams(packs), p.Coffee, p.Lot, sheetMoment(p.UseFrom, p.PullBy, w.loc)) + open
			t.Why = fmt.Sprintf("%s uses it; closed until it is as warm as the room, so that no water settles on the beans.", day)
		} else {
			t.Say = fmt.Sprintf("Take %s of %s, lot %s, from the shelf.", sheetGrams(packs), p.Coffee, p.Lot) + open
			t.Why = fmt.Sprintf("%s uses it; the oldest lot that has rested comes first.", day)
		}
		w.put(w.page(p.PullBy), t)
	}
}
