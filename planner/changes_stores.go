package planner

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"hotday/models"
)

// loadMove is how far a load may move without a word: ice that is done waits.
const loadMove = 20 * time.Minute

// loads compares the fillings of each mould set.
func (c *changeWriter) loads(a, b []models.IceQuota) {
	before, now := loadsByMould(a), loadsByMould(b)
	for _, m := range keysOf(before, now) {
		x, y := before[m], now[m]
		old := make([]oldTask, len(x))
		for i, l := range x {
			old[i] = oldTask{at: l.FillAt}
		}
		times, free := make([]time.Time, len(y)), make([]int, len(y))
		for i, l := range y {
			times[i], free[i] = l.FillAt, i
		}
		kept := make([]bool, len(x))
		for i, o := range nearest(times, free, old) {
			switch {
			case o < 0:
				c.say(changeIce, "One more load in %s, filled %s", m, c.when(y[i].FillAt))
				continue
			case y[i].FillAt.Sub(x[o].FillAt).Abs() > loadMove:
				c.say(changeIce, "Load in %s filled %s → %s", m, c.when(x[o].FillAt), sheetMoment(y[i].FillAt, x[o].FillAt, c.loc))
			case y[i].TakeAt.Sub(x[o].TakeAt).Abs() > loadMove:
				c.say(changeIce, "Load in %s taken out %s → %s", m, c.when(x[o].TakeAt), sheetMoment(y[i].TakeAt, x[o].TakeAt, c.loc))
			}
			kept[o] = true
		}
		for i, l := range x {
			if !kept[i] && !c.past(l.FillAt) {
				c.say(changeIce, "One load fewer in %s, the one of %s", m, c.when(l.FillAt))
			}
		}
	}
}

func loadsByMould(quotas []models.IceQuota) map[string][]models.IceLoad {
	out := map[string][]models.IceLoad{}
	for _, q := range quotas {
		if len(q.Loads) > 0 {
			out[q.Maker] = append(out[q.Maker], q.Loads...)
		}
	}
	for _, l := range out {
		slices.SortStableFunc(l, func(a, b models.IceLoad) int { return a.FillAt.Compare(b.FillAt) })
	}
	return out
}

// keysOf are the keys of two maps, sorted.
func keysOf[K cmp.Ordered, V any](a, b map[K]V) []K {
	var keys []K
	for k := range a {
		keys = append(keys, k)
	}
	for k := range b {
		if _, ok := a[k]; !ok {
			keys = append(keys, k)
		}
	}
	slices.Sort(keys)
	return keys
}

// quotas compares what the makers must add; mould sets are told by their loads.
func (c *changeWriter) quotas(a, b []models.IceQuota) {
	type at struct {
		date        models.Date
		part, maker string
	}
	before, seen := map[at]models.IceQuota{}, map[at]bool{}
	for _, q := range a {
		if len(q.Loads) == 0 {
			before[at{q.Date, q.DayPart, q.Maker}] = q
		}
	}
	for _, q := range b {
		if len(q.Loads) > 0 {
			continue
		}
		k := at{q.Date, q.DayPart, q.Maker}
		old := before[k]
		seen[k] = true
		switch {
		case noticeable(old.MakeG, q.MakeG, 100):
			c.say(changeIce, "%s by %s: %s instead of %s", q.Maker, c.when(q.Due), sheetKg(q.MakeG), sheetKg(old.MakeG))
		case old.MakeG >= 100 && q.Due.Sub(old.Due).Abs() >= 15*time.Minute:
			c.say(changeIce, "%s: %s due %s → %s", q.Maker, sheetKg(q.MakeG), c.when(old.Due), sheetMoment(q.Due, old.Due, c.loc))
		}
	}
	for _, q := range a {
		if k := (at{q.Date, q.DayPart, q.Maker}); len(q.Loads) == 0 && !seen[k] && q.MakeG >= 100 && !c.past(q.Due) {
			c.say(changeIce, "%s by %s: nothing instead of %s", q.Maker, c.when(q.Due), sheetKg(q.MakeG))
		}
	}
}

func (c *changeWriter) draws(a, b []models.WaterDraw) {
	type at struct {
		date models.Date
		part string
	}
	before, seen := map[at]models.WaterDraw{}, map[at]bool{}
	for _, d := range a {
		before[at{d.Date, d.DayPart}] = d
	}
	for _, d := range b {
		k := at{d.Date, d.DayPart}
		seen[k] = true
		c.draw(d, before[k].DrawL, d.DrawL)
	}
	for _, d := range a {
		if !seen[at{d.Date, d.DayPart}] {
			c.draw(d, d.DrawL, 0)
		}
	}
}

func (c *changeWriter) draw(d models.WaterDraw, was, is float64) {
	if noticeable(was, is, 0.5) && !(is == 0 && c.over(d.Date)) {
		c.say(changeWater, "Treated water for %s, %s: %s instead of %s", shortDay(d.Date), d.DayPart, sheetLitres(is), sheetLitres(was))
	}
}

func shortDay(d models.Date) string { return d.Weekday().String()[:3] }

func (c *changeWriter) pulls(a, b []models.BeanPull) {
	type at struct {
		date        models.Date
		coffee, lot string
	}
	before, seen := map[at]models.BeanPull{}, map[at]bool{}
	for _, p := range a {
		before[at{p.Date, p.Coffee, p.Lot}] = p
	}
	for _, p := range b {
		k := at{p.Date, p.Coffee, p.Lot}
		old, ok := before[k]
		seen[k] = true
		switch {
		case !ok && p.G >= 1:
			c.say(changePull, "Also pull %s of %s, lot %s, for %s", sheetGrams(p.G), p.Coffee, p.Lot, shortDay(p.Date))
		case ok && noticeable(old.G, p.G, 50) && !c.past(old.PullBy):
			c.say(changePull, "Pull %s of %s, lot %s, for %s instead of %s", sheetGrams(p.G), p.Coffee, p.Lot, shortDay(p.Date), sheetGrams(old.G))
		}
	}
	for _, p := range a {
		if !seen[at{p.Date, p.Coffee, p.Lot}] && p.G >= 1 && !c.past(p.PullBy) {
			c.say(changePull, "Leave lot %s of %s in store on %s (%s)", p.Lot, p.Coffee, shortDay(p.Date), sheetGrams(p.G))
		}
	}
}

// demand compares the expected servings by date and drink; parts of less than a tenth and three servings are not worth a word.
func (c *changeWriter) demand(a, b []models.DemandRange) {
	type at struct {
		date  models.Date
		drink string
	}
	sum := func(rows []models.DemandRange) (map[at]float64, []at) {
		m, order := map[at]float64{}, []at{}
		for _, r := range rows {
			k := at{r.Date, r.Drink}
			if _, ok := m[k]; !ok {
				order = append(order, k)
			}
			m[k] += r.Mean
		}
		return m, order
	}
	was, _ := sum(a)
	is, order := sum(b)
	for _, k := range order {
		old, ok := was[k]
		if d := math.Abs(is[k] - old); ok && d >= 3 && d > 0.1*old {
			c.say(changeDemand, "%s on %s: %s servings expected instead of %s", k.drink, shortDay(k.date), Number(is[k], 0), Number(old, 0))
		}
	}
}

// warnings compares the warnings by kind and service date; a change of chance counts from ten points.
func (c *changeWriter) warnings(a, b []models.Warning) {
	key := func(w models.Warning) string {
		return w.Kind + " " + w.At.In(c.loc).Format(time.DateOnly) + " " + fmt.Sprint(w.Fields)
	}
	before, seen := map[string]models.Warning{}, map[string]bool{}
	for _, w := range a {
		before[key(w)] = w
	}
	for _, w := range b {
		k := key(w)
		old, ok := before[k]
		seen[k] = true
		switch {
		case !ok:
			c.say(changeWarning, "New warning: %s", w.Cause)
		case math.Abs(old.ChancePct-w.ChancePct) >= 10:
			c.say(changeWarning, "%s (chance %s %% instead of %s %%)", w.Cause, Number(w.ChancePct, 0), Number(old.ChancePct, 0))
		}
	}
	for _, w := range a {
		if !seen[key(w)] {
			c.say(changeWarning, "No longer: %s", w.Cause)
		}
	}
}
