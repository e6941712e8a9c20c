package tables

import (
	"cmp"

	"hotday/models"
)

// Plan returns the tables of a plan: the tasks of each day of sheets, then batches, ice to make, the ice bin, water and beans.
func Plan(r models.PlanRequest, p models.Plan, sheets []models.PrepSheet) []Table {
	l := layoutFor(r.Site)
	var out []Table
	for _, s := range sheets {
		t := l.tasks()
		t.Name = l.Day(s.Date.At(12*60, l.loc))
		l.addTasks(&t, s)
		out = append(out, t)
	}
	names := beverageNames(r.Beverages)
	return append(out, l.batches(p, names), l.quotas(p), l.bin(p), l.water(p), l.beans(p))
}

// Tasks returns the tasks of all days as one table.
func Tasks(r models.PlanRequest, sheets []models.PrepSheet) Table {
	l := layoutFor(r.Site)
	t := l.tasks()
	for _, s := range sheets {
		l.addTasks(&t, s)
	}
	return t
}

func beverageNames(list []models.Beverage) func(code string) string {
	names := map[string]string{}
	for _, b := range list {
		names[b.Code] = b.Name
	}
	return func(code string) string { return cmp.Or(names[code], code) }
}

func (l layout) tasks() Table {
	return l.table("tasks", "at", "where", "task", "why", "state", "caution")
}

func (l layout) addTasks(t *Table, s models.PrepSheet) {
	for _, task := range s.Lines() {
		state := ""
		if task.State != models.Due && task.State != "" {
			state = l.Say("text.state." + task.State)
		}
		t.add(l.at(task.At), l.Place(task.Station), task.Say, task.Why, state, task.Caution)
	}
}

func (l layout) batches(p models.Plan, name func(string) string) Table {
	t := l.table("batches", "brewer", "beverage", "start", "ready", "use_by", "coffee", "brew_water", "ice", "makes", "strength", "final", "lot")
	for _, b := range p.Batches {
		t.add(b.Brewer, name(b.Beverage), l.at(b.Start), l.at(b.Ready), l.at(b.UseBy), l.mass(b.DoseG), l.mass(b.BrewWaterG), l.mass(b.IceG), l.mass(b.BeverageG),
			number(b.ExpectedTDSPct), l.temp(b.FinalTempC), b.CoffeeLot)
	}
	return t
}

func (l layout) quotas(p models.Plan) Table {
	t := l.table("ice", "machine", "part", "make", "from", "due")
	for _, q := range p.Ice.Quotas {
		t.add(q.Maker, q.DayPart, l.mass(q.MakeG), l.at(q.From), l.at(q.Due))
	}
	return t
}

func (l layout) bin(p models.Plan) Table {
	t := l.table("bin", "at", "in_bin", "low", "high")
	for _, x := range p.Ice.Levels {
		t.add(l.at(x.At), l.mass(x.G), l.mass(x.P10G), l.mass(x.P90G))
	}
	return t
}

func (l layout) water(p models.Plan) Table {
	t := l.table("water", "at", "first_use", "fill", "ro", "tap", "tank_after")
	for _, w := range p.Water {
		t.add(l.at(w.At), l.at(w.By), l.volume(w.DrawL), l.volume(w.ROL), l.volume(w.TapL), l.volume(w.TankAfterL))
	}
	return t
}

func (l layout) beans(p models.Plan) Table {
	t := l.table("beans", "bean", "lot", "amount", "place", "get_by", "use_from")
	for _, b := range p.Pulls {
		t.add(b.Coffee, b.Lot, l.mass(b.G), l.Say("file.place."+b.FromPlace), l.at(b.PullBy), l.at(b.UseFrom))
	}
	return t
}
