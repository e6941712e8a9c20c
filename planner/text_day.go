package planner

import (
	"cmp"
	"strings"
	"time"

	"hotday/models"
)

// day writes one service day: demand, batches, ice, water, beans.
func (t *textPlan) day(d models.Date) {
	t.line("")
	head := strings.ToUpper(textDate(d))
	if top, ok := t.warmest(d); ok {
		head += " · up to " + Number(top, 0) + narrow + "°C"
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
			parts = append(parts, p.Code+" "+Number(sum, 0))
		}
	}
	if len(parts) > 0 {
		t.line("  Servings to expect: %s", strings.Join(parts, ", "))
	}
}

func (t *textPlan) batchesOf(d models.Date) {
	tab := newTable("start", "brewer", "beverage", ">dose", ">pour", ">cool to", ">ice", ">makes", "ready", "use by", ">strength")
	for _, b := range t.plan.Batches {
		if !t.belongs(b.Date, d) {
			continue
		}
		cool, ice := "", ""
		if b.CoolToBeforeIceC != nil {
			cool = Number(*b.CoolToBeforeIceC, 0) + narrow + "°C"
		}
		if b.IceG > 0 {
			ice = sheetGrams(b.IceG)
		}
		start := t.by(b.Start, d)
		if b.State == models.Started || b.State == models.Made {
			start += " " + b.State
		}
		tab.add(start, b.Brewer, cmp.Or(t.names[b.Beverage], b.Beverage), sheetGrams(b.DoseG), sheetGrams(b.BrewWaterG), cool, ice,
			sheetGrams(b.BeverageG), t.by(b.Ready, d), t.by(b.UseBy, d), percent(b.ExpectedTDSPct, 2))
	}
	t.section("Brew", tab)
}

func (t *textPlan) section(title string, tab *table) {
	if len(tab.rows) == 0 {
		return
	}
	t.line("")
	t.line("  %s", title)
	tab.write(t, "    ")
}

func (t *textPlan) iceOf(d models.Date) {
	tab := newTable("in the bin by", "from", ">add", "loads")
	for _, q := range t.plan.Ice.Quotas {
		if !t.belongs(q.Date, d) || (q.MakeG < 0.5 && len(q.Loads) == 0) {
			continue
		}
		var loads []string
		for _, l := range q.Loads {
			loads = append(loads, "fill "+t.by(l.FillAt, d)+", take out "+t.by(l.TakeAt, d))
		}
		tab.add(t.by(q.Due, d), q.Maker, sheetKg(q.MakeG), strings.Join(loads, "; "))
	}
	t.section("Ice to make, at the least", tab)
}

// tideSteps are the heights of the tide line, from no ice to a full bin.
const tideSteps = "▁▂▃▄▅▆▇█"

// tideOf draws the drink ice in the bin over the opening hours, one sign for half an hour.
func (t *textPlan) tideOf(d models.Date) {
	people := t.req.Site.PeopleSpans(d)
	if len(people) == 0 || len(t.plan.Ice.Levels) == 0 {
		return
	}
	from, to := people[0].From, people[len(people)-1].To
	full := t.req.Ice.BinG
	lowest, lowestAt := -1.0, from
	for _, l := range t.plan.Ice.Levels {
		full = max(full, l.G)
	}
	var line []rune
	steps := []rune(tideSteps)
	next := from
	for _, l := range t.plan.Ice.Levels {
		if l.At.Before(from) || l.At.After(to) {
			continue
		}
		if lowest < 0 || l.G < lowest {
			lowest, lowestAt = l.G, l.At
		}
		if l.At.Before(next) || full <= 0 {
			continue
		}
		line = append(line, steps[min(len(steps)-1, int(l.G/full*float64(len(steps))))])
		next = l.At.Add(30 * time.Minute)
	}
	if len(line) == 0 {
		return
	}
	t.line("")
	t.line("  Ice in the bin  %s %s %s   lowest %s at %s", t.by(from, d), string(line), t.by(to, d), sheetKg(lowest), t.by(lowestAt, d))
}

func (t *textPlan) waterOf(d models.Date) {
	tab := newTable("part", ">draw", ">brewing", ">ice", ">rinsing", ">left in tank", "dose for it")
	for _, w := range t.plan.Water {
		if !t.belongs(w.Date, d) {
			continue
		}
		var dose []string
		for _, s := range w.Dose {
			dose = append(dose, s.Salt+" "+Number(s.G, 1)+narrow+"g")
		}
		tab.add(w.DayPart, sheetLitres(w.DrawL), sheetLitres(w.BrewL), sheetLitres(w.IceL), sheetLitres(w.RinseL), sheetLitres(w.TankAfterL), strings.Join(dose, ", "))
	}
	t.section("Treated water", tab)
}

func (t *textPlan) pullsOf(d models.Date) {
	tab := newTable("pull by", "coffee", "lot", ">amount", ">of it open", "from", "use from")
	for _, p := range t.plan.Pulls {
		if t.belongs(p.Date, d) {
			tab.add(t.by(p.PullBy, d), p.Coffee, p.Lot, sheetGrams(p.G), openGrams(p), p.FromPlace, t.by(p.UseFrom, d))
		}
	}
	t.section("Beans", tab)
}

func openGrams(p models.BeanPull) string {
	if p.OpenG < 1 {
		return ""
	}
	return sheetGrams(p.OpenG)
}
