package audit

import (
	"time"

	"hotday/models"
)

var sheetRules = []Rule{
	{"sheet.days", "There is one sheet for each service day; work before the first is on the first.", sheetDays},
	{"sheet.order", "Tasks are in order of time, none in the past, each with its end and its hands.", sheetOrder},
	{"sheet.ids", "Tasks have ids, each once.", taskIDs},
	{"sheet.steps", "Every batch has its steps on the sheets, in order: brew, chill or strain, store.", batchSteps},
	{"sheet.fields", "What a task is about stands in its fields.", taskFields},
	{"sheet.complete", "Every fill, mix, pull and load of the plan is on a sheet, once.", sheetsComplete},
}

func sheetDays(p *Papers, report report) {
	if len(p.sheets) != p.plan.Days {
		report("sheets", "%d for %d days", len(p.sheets), p.plan.Days)
	}
	last := p.plan.From.AddDays(p.plan.Days - 1)
	for i := range p.sheets {
		s := &p.sheets[i]
		if want := p.plan.From.AddDays(i); s.Date != want {
			report(string(s.Date), "in the place of %s", want)
		}
		for k := range s.Tasks {
			t := &s.Tasks[k]
			if day := min(max(p.request.Site.ServiceDayOf(t.At), p.plan.From), last); day != s.Date && t.PartOf == "" {
				report(t.ID, "%s at %s on the sheet of %s", t.Kind, p.clock(t.At), s.Date)
			}
		}
	}
}

func sheetOrder(p *Papers, report report) {
	for i := range p.sheets {
		var before time.Time
		for k := range p.sheets[i].Tasks {
			t := &p.sheets[i].Tasks[k]
			if t.At.Before(before) {
				report(t.ID, "at %s after a task at %s", p.clock(t.At), p.clock(before))
			}
			before = t.At
			if t.State == models.Due && !t.begun && t.At.Before(p.plan.ComputedAt) {
				report(t.ID, "%s at %s, before the plan was made", t.Kind, p.clock(t.At))
			}
			switch {
			case t.Until.IsZero():
				report(t.ID, "%s without its end", t.Kind)
			case t.Until.Before(t.At):
				report(t.ID, "ends at %s, begins at %s", p.clock(t.Until), p.clock(t.At))
			case t.Hands < 0 || t.Hands == 0 && t.works():
				report(t.ID, "%s needs %d people", t.Kind, t.Hands)
			}
		}
	}
}

func taskIDs(p *Papers, report report) {
	seen := map[string]bool{}
	for _, t := range p.tasks {
		if t.ID == "" || seen[t.ID] {
			report(t.ID, "%s at %s: empty, or twice", t.Kind, p.clock(t.At))
		}
		seen[t.ID] = true
		if t.Say == "" {
			report(t.ID, "%s says nothing", t.Kind)
		}
	}
}

// ofBatch reports whether a task is a step of a batch: the sheets may number batches differently.
func (t *task) ofBatch(b *batch) bool {
	return t.Batch != nil && t.Batch.Brewer == b.Brewer && t.Batch.Beverage == b.Beverage && t.Batch.Start.Equal(b.Start)
}

func batchSteps(p *Papers, report report) {
	for _, b := range p.due() {
		steps := map[string]*task{}
		for _, t := range p.tasks {
			if t.ofBatch(b) && t.Kind != models.TaskDiscard && t.Kind != models.TaskTempLog { // a batch may have several readings
				if steps[t.Kind] != nil {
					report(b.ID, "%s twice", t.Kind)
				}
				steps[t.Kind] = t
				if x := t.Batch; x.DoseG != b.DoseG || x.BrewWaterG != b.BrewWaterG || x.IceG != b.IceG || x.BeverageG != b.BeverageG || x.BathIceG != b.BathIceG {
					report(t.ID, "its batch has other amounts than the plan's")
				}
			}
		}
		need := []string{models.TaskBrew}
		if !b.StrainAt.IsZero() {
			need = append(need, models.TaskStrain)
		}
		if b.CoolToBeforeIceC != nil && p.beverage(b.Beverage).Method != models.Steeped || b.IceG >= 0.5 {
			need = append(need, models.TaskChill)
		}
		need = append(need, models.TaskStore)
		var before *task
		for _, kind := range need {
			t := steps[kind]
			if t == nil {
				report(b.ID, "no task to %s it", kind)
				continue
			}
			if before != nil && t.At.Before(before.At) {
				report(b.ID, "%s at %s, before %s at %s", kind, p.clock(t.At), before.Kind, p.clock(before.At))
			}
			before = t
		}
		if t := steps[models.TaskBrew]; t != nil && !t.At.Equal(b.Start) {
			report(b.ID, "brewed at %s, planned for %s", p.clock(t.At), p.clock(b.Start))
		}
		if t := steps[models.TaskStrain]; t != nil && t.At.Sub(b.StrainAt).Abs() > 15*time.Minute {
			report(b.ID, "strained at %s, planned for %s", p.clock(t.At), p.clock(b.StrainAt))
		}
		ready := b.Ready
		if !b.StrainAt.IsZero() { // cold brew is ready once it is strained, whatever its recipe says
			ready = models.Later(ready, b.StrainAt.Add(models.Minutes(p.work().StrainTakes)))
		}
		if t := steps[models.TaskStore]; t != nil && t.At.After(ready.Add(45*time.Minute)) {
			report(b.ID, "stored at %s, ready at %s", p.clock(t.At), p.clock(ready))
		}
	}
}

func taskFields(p *Papers, report report) {
	for _, t := range p.tasks {
		if t.State != models.Due {
			continue
		}
		missing := ""
		switch t.Kind {
		case models.TaskBrew:
			if t.Batch == nil {
				missing = "batch"
			} else if len(t.Batch.Lots) > 0 && len(t.Lots) == 0 {
				missing = "lots"
			}
		case models.TaskChill, models.TaskStrain, models.TaskStore:
			if t.Batch == nil {
				missing = "batch"
			}
		case models.TaskWaterDraw:
			if t.Draw == nil {
				missing = "draw"
			}
		case models.TaskMix:
			if t.Mix == nil {
				missing = "mix"
			}
		case models.TaskPull:
			if len(t.Pulls) == 0 {
				missing = "pulls"
			}
		case models.TaskDiscard:
			if t.Discard == nil {
				missing = "discard"
			}
		case models.TaskIceFill, models.TaskIceTake, models.TaskIceRefill:
			if t.Quota == nil || len(t.Quota.Loads) == 0 {
				missing = "quota"
			}
		case models.TaskIceCheck:
			if t.Quota == nil {
				missing = "quota"
			}
		}
		if missing != "" {
			report(t.ID, "%s without %s", t.Kind, missing)
		}
		if t.Batch != nil && t.Beverage != t.Batch.Beverage {
			report(t.ID, "of %q, its batch is of %q", t.Beverage, t.Batch.Beverage)
		}
	}
}

func sheetsComplete(p *Papers, report report) {
	var drawn, filled, got, pulled float64
	mixes := 0
	loads := map[string]int{}
	for _, t := range p.tasks {
		switch {
		case t.Kind == models.TaskWaterDraw && t.Draw != nil && t.State == models.Due:
			drawn += t.Draw.DrawL
		case t.Kind == models.TaskMix && t.Mix != nil && t.State == models.Due:
			mixes++
		case t.Kind == models.TaskPull:
			for _, x := range t.Pulls {
				got += x.G
			}
		}
		if (t.Kind == models.TaskIceTake || t.Kind == models.TaskIceRefill) && t.Quota != nil {
			loads[t.Station]++
		}
	}
	for i := range p.plan.Water {
		filled += p.plan.Water[i].DrawL
	}
	for i := range p.plan.Pulls {
		if g := p.plan.Pulls[i].G; g >= 0.5 {
			pulled += g
		}
	}
	if !near(drawn, filled, 0.05+0.05*float64(len(p.plan.Water)), 1e-6) {
		report("water", "%.1f L on the sheets, %.1f L in the plan", drawn, filled)
	}
	if mixes != len(p.plan.Mixes) {
		report("water", "%d mixes on the sheets, %d in the plan", mixes, len(p.plan.Mixes))
	}
	if !near(got, pulled, 1, 1e-6) {
		report("beans", "%.0f g on the sheets, %.0f g in the plan", got, pulled)
	}
	for code, list := range p.loads() {
		if len(list) > 0 && loads[code] == 0 {
			report(code, "%d loads in the plan, no task empties them", len(list))
		}
	}
}
