package sheet

import (
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// liftKg is the most that one person lifts alone, kg.
const liftKg = 20

// water adds the concentrates to mix and the fills of brewing water, each at the time when it must begin at the latest.
func (w *sheetWriter) water() {
	groups := map[taskGroup][]int{}
	var order []taskGroup
	list := slices.Clone(w.plan.Water)
	for i := range list {
		d := &list[i]
		if d.At.IsZero() { // of a version that knew only day parts
			d.At = w.partStart(d)
		}
		if d.DrawL < 0.05 || d.At.IsZero() {
			continue
		}
		s := taskGroup{w.dateOf(d.At), stationWater, models.TaskWaterDraw, "fill"}
		if groups[s] == nil {
			order = append(order, s)
		}
		groups[s] = append(groups[s], i)
	}
	for _, s := range order {
		group := groups[s]
		times := make([]time.Time, len(group))
		for k, i := range group {
			times[k] = list[i].At
		}
		for k, n := range w.numbers(s, times, make([]int, len(group))) {
			w.fill(s, n, list[group[k]])
		}
	}
	for i := range w.plan.Mixes {
		w.mix(w.plan.Mixes[i])
	}
}

// partStart is when a fill of an earlier version's plan is due: when its day part begins, but not before the plan was made.
func (w *sheetWriter) partStart(d *models.WaterDraw) time.Time {
	span, ok := w.partSpan(d.Date, d.DayPart)
	if ok && span.From.Before(w.plan.ComputedAt) {
		return w.plan.ComputedAt
	}
	return span.From
}

func (w *sheetWriter) fill(s taskGroup, n int, d models.WaterDraw) {
	t := models.Task{ID: w.idIn(s, n), At: d.At, Until: d.At.Add(models.Minutes(w.req.Site.Work().Fill * float64(max(1, d.Containers)))), Hands: 1,
		Station: stationWater, Kind: models.TaskWaterDraw, State: models.Due, Draw: &d}
	if w.req.Water.ContainerL > liftKg { // a litre weighs a kilogram
		t.Hands = 2
	}
	t.Say = w.fillText(&d)
	var uses []string
	for _, u := range []struct {
		key string
		l   float64
	}{{"water.use_brew", d.BrewL}, {"water.use_ice", d.IceL}, {"water.use_drink", d.DrinkL}} {
		if u.l >= 0.05 {
			uses = append(uses, w.Say(u.key, "volume", w.Volume(u.l)))
		}
	}
	if len(uses) == 0 {
		uses = append(uses, w.Say("water.use_later"))
	}
	if d.By.IsZero() {
		d.By = d.At
	}
	t.Why = w.Say("water.why_fill", "by", w.Moment(d.By, d.At), "uses", strings.Join(uses, w.Say("said.comma")), "tank", w.Volume(d.TankAfterL))
	if len(d.Dose) > 0 {
		w.caution(&t, models.CautionMinerals)
	}
	w.put(s.date, t)
}

// fillText says what to fill: the recipe of each container where there are several of the same size.
func (w wording) fillText(d *models.WaterDraw) string {
	n := 1.0
	if size := w.setup.Water.ContainerL; size > 0 && d.Containers > 1 && math.Abs(d.DrawL-size*float64(d.Containers)) < 1e-6 {
		n = float64(d.Containers)
	}
	var recipe []string
	switch {
	case d.TapL >= 0.005:
		recipe = append(recipe, w.Say("water.blend", "ro", w.measured(d.ROL/n, d.DrawL/n), "tap", w.measured(d.TapL/n, d.DrawL/n)))
	default:
		recipe = append(recipe, w.Say("water.from_tank"))
	}
	for _, c := range d.Concentrates {
		if c.ML > 0 {
			recipe = append(recipe, w.Say("water.dose", "ml", w.Number(c.ML/n, decimals(c.ML/n)), "code", c.Code))
		}
	}
	if len(d.Concentrates) == 0 { // salts weighed for each fill, in plans of earlier versions
		for _, s := range d.Dose {
			recipe = append(recipe, w.Say("water.mix_salt", "mass", w.SaltMass(s.G), "salt", s.Salt))
		}
	}
	key := "water.fill"
	if n > 1 {
		key = "water.fill_each"
	}
	return w.Say(key, "n", int(n), "volume", w.Volume(d.DrawL/n), "recipe", strings.Join(recipe, w.Say("said.comma")))
}

// measured is a part of a fill as it is measured: below 5 L in millilitres, since tenths of a litre are too coarse for it.
func (w wording) measured(l, of float64) string {
	if of < 5 && !w.Gallons() {
		return say.Number(math.Round(l*1000), 0) + say.NoBreak + "mL"
	}
	return w.Volume(l)
}

// decimals is 1 for a number that is not whole, else 0.
func decimals(x float64) int {
	if math.Abs(x-math.Round(x)) < 0.05 {
		return 0
	}
	return 1
}

// mixTakes is how long a person weighs, dissolves and labels a bottle of concentrate; common practice, no source.
const mixTakes = 10 * time.Minute

func (w *sheetWriter) mix(m models.Mix) {
	date, subject := w.dateOf(m.At), m.Code
	if day := w.req.Site.ServiceDayOf(m.At); day != date { // the first sheet may have another bottle of it
		subject += " " + string(day)
	}
	t := models.Task{ID: taskID(w.req.Site.Code, date, stationWater, models.TaskMix, subject), At: m.At, Until: m.At.Add(mixTakes), Hands: 1,
		Station: stationWater, Kind: models.TaskMix, State: models.Due, Mix: &m}
	var salts []string
	for _, s := range m.Salts {
		salts = append(salts, w.Say("water.mix_salt", "mass", w.SaltMass(s.G), "salt", s.Salt))
	}
	t.Say = w.Say("water.mix", "code", m.Code, "salts", strings.Join(salts, w.Say("water.mix_then")), "water", say.Number(m.WaterML, 0), "makes", say.Number(m.MakesML, 0))
	t.Why = w.Say("water.why_mix", "dose", w.Number(m.MLPerL, decimals(m.MLPerL)), "code", m.Code, "until", w.Day(m.GoodTo))
	w.caution(&t, models.CautionMinerals)
	w.put(date, t)
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
			At: p.PullBy, Until: p.PullBy.Add(models.Minutes(w.req.Site.Work().Get)), Hands: 1,
			Station: stationBeans, Kind: models.TaskPull, State: models.Due, Pulls: []models.BeanPull{p}, Pull: &p,
		}
		day := w.DayName(p.Date)
		bags, open := p.G-p.OpenG, ""
		if p.OpenG >= 1 {
			open = w.Say("water.open_first", "mass", w.ExactMass(p.OpenG))
		}
		if bags < 1 {
			t.Say = w.Say("water.pull_open", "mass", w.ExactMass(p.G), "coffee", p.Coffee, "lot", p.Lot)
			t.Why = w.Say("water.why_pull_open", "day", day)
		} else if p.FromPlace == "freezer" {
			t.Say = w.Say("water.pull_freezer", "mass", w.ExactMass(bags), "coffee", p.Coffee, "lot", p.Lot, "until", w.Moment(p.UseFrom, p.PullBy)) + open
			t.Why = w.Say("water.why_pull_freezer", "day", day)
		} else {
			t.Say = w.Say("water.pull", "mass", w.ExactMass(bags), "coffee", p.Coffee, "lot", p.Lot) + open
			t.Why = w.Say("water.why_pull", "day", day)
		}
		w.put(w.dateOf(p.PullBy), t)
	}
}
