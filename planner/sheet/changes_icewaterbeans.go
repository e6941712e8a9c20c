package sheet

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// loadMove is how far a load may move without a word: frozen ice can wait.
const loadMove = 20 * time.Minute

// loads compares the loads of each set of trays, a sentence for a set and day.
func (c *changeWriter) loads(a, b []models.IceQuota) {
	before, now := loadsByTray(a), loadsByTray(b)
	for _, tray := range keysOf(before, now) {
		var list []loadChange
		x, y := c.ahead(before[tray]), c.ahead(now[tray])
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
			if o < 0 {
				list = append(list, loadChange{is: &y[i]})
				continue
			}
			kept[o] = true
			if l := (loadChange{was: &x[o], is: &y[i]}); l.moved() > loadMove || l.taken() > loadMove {
				list = append(list, l)
			}
		}
		for i := range x {
			if !kept[i] {
				list = append(list, loadChange{was: &x[i]})
			}
		}
		c.loadsOf(tray, list)
	}
}

// loadChange is a load before and after: was is nil for a new load, is for a cancelled one.
type loadChange struct{ was, is *models.IceLoad }

func (l loadChange) moved() time.Duration { return l.is.FillAt.Sub(l.was.FillAt).Abs() }
func (l loadChange) taken() time.Duration { return l.is.TakeAt.Sub(l.was.TakeAt).Abs() }

func (l loadChange) at() time.Time {
	if l.was == nil || l.is != nil && l.is.FillAt.Before(l.was.FillAt) {
		return l.is.FillAt
	}
	return l.was.FillAt
}

func (c *changeWriter) loadsOf(tray string, list []loadChange) {
	slices.SortStableFunc(list, func(x, y loadChange) int { return x.at().Compare(y.at()) })
	days := map[models.Date][]string{}
	for _, l := range list {
		c.noteTask(l.at())
		d := models.DateOf(l.at(), c.loc)
		days[d] = append(days[d], c.loadText(l))
	}
	for _, d := range keysOf(days, nil) {
		c.say(changeIce, "change.loads", "mould", tray, "day", c.q.ShortDay(d), "items", strings.Join(days[d], c.q.Say("said.semicolon")))
	}
}

func (c *changeWriter) loadText(l loadChange) string {
	switch {
	case l.was == nil:
		return c.q.Say("change.load_come", "at", c.q.Clock(l.is.FillAt))
	case l.is == nil:
		return c.q.Say("change.load_gone", "at", c.q.Clock(l.was.FillAt))
	case l.moved() > loadMove:
		return c.q.Say("change.load_filled", "was", c.q.Clock(l.was.FillAt), "at", c.q.Moment(l.is.FillAt, l.was.FillAt))
	}
	return c.q.Say("change.load_taken", "filled", c.q.Clock(l.is.FillAt), "was", c.q.Moment(l.was.TakeAt, l.is.FillAt), "at", c.q.Moment(l.is.TakeAt, l.was.TakeAt))
}

// ahead are the loads not yet to be filled when the newer plan was made.
func (c *changeWriter) ahead(list []models.IceLoad) []models.IceLoad {
	return slices.DeleteFunc(slices.Clone(list), func(l models.IceLoad) bool { return c.past(l.FillAt) })
}

func loadsByTray(quotas []models.IceQuota) map[string][]models.IceLoad {
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

// The least change of a quota that is worth a word: quotaPart of it, quotaG, and quotaMove of its due time.
const (
	quotaPart = 0.1
	quotaG    = 500
	quotaMove = 30 * time.Minute
)

// quotas compares the ice that each machine must make in day parts that have not begun, a sentence for a machine and day. Trays are
// described by their loads.
func (c *changeWriter) quotas(a, b []models.IceQuota) {
	type at struct {
		date        models.Date
		part, maker string
	}
	type day struct {
		date  models.Date
		maker string
	}
	before, seen := map[at]models.IceQuota{}, map[at]bool{}
	for _, q := range a {
		if len(q.Loads) == 0 {
			before[at{q.Date, q.DayPart, q.Maker}] = q
		}
	}
	var order []day
	items := map[day][]string{}
	add := func(q models.IceQuota, key string, args ...any) {
		k := day{q.Date, q.Maker}
		if items[k] == nil {
			order = append(order, k)
		}
		items[k] = append(items[k], c.q.Say(key, args...))
	}
	for _, q := range b {
		if len(q.Loads) > 0 || c.begun(q.Date, q.DayPart) {
			continue
		}
		k := at{q.Date, q.DayPart, q.Maker}
		old := before[k]
		seen[k] = true
		switch {
		case noticeable(old.MakeG, q.MakeG, quotaPart, quotaG):
			add(q, "change.quota", "mass", c.q.GlanceMass(q.MakeG), "at", c.q.ShortAt(q.Due), "was", c.q.GlanceMass(old.MakeG))
		case old.MakeG >= quotaG && q.Due.Sub(old.Due).Abs() >= quotaMove:
			add(q, "change.quota_due", "mass", c.q.GlanceMass(q.MakeG), "was", c.q.ShortAt(old.Due), "at", c.q.Moment(q.Due, old.Due))
		}
	}
	for _, q := range a {
		if k := (at{q.Date, q.DayPart, q.Maker}); len(q.Loads) == 0 && !seen[k] && q.MakeG >= quotaG && !c.past(q.Due) && !c.begun(q.Date, q.DayPart) {
			add(q, "change.quota_none", "at", c.q.ShortAt(q.Due), "was", c.q.GlanceMass(q.MakeG))
		}
	}
	for _, k := range order {
		c.say(changeIce, "change.quotas", "maker", k.maker, "items", strings.Join(items[k], c.q.Say("said.comma")))
	}
}

// checks compares the levels to look for in the ice bins, by day in order of time: a sentence for one that differs noticeably. Sheets of
// earlier versions have none to compare with.
func (c *changeWriter) checks(a, b []models.IceQuota) {
	before, now := checksByBin(a), checksByBin(b)
	if len(before) == 0 {
		return
	}
	for _, k := range keysOf(before, now) {
		old, q := before[k], now[k]
		if old.LevelG == 0 || q.LevelG == 0 || c.past(q.Due) || !noticeable(old.LevelG, q.LevelG, quotaPart, quotaG) {
			continue
		}
		key := "change.check"
		if q.BathIce {
			key = "change.check_bath"
		}
		c.noteTask(q.Due)
		c.say(changeIce, key, "at", c.q.ShortAt(q.Due), "mass", c.q.GlanceMass(q.LevelG), "was", c.q.GlanceMass(old.LevelG))
	}
}

// checksByBin are the looks into the ice bins, by date, kind of ice and number on the day.
func checksByBin(list []models.IceQuota) map[string]models.IceQuota {
	out := map[string]models.IceQuota{}
	for _, q := range list {
		key, n := fmt.Sprintf("%s %t", q.Date, q.BathIce), 1
		for ; out[numbered(key, n)].LevelG > 0; n++ {
		}
		out[numbered(key, n)] = q
	}
	return out
}

// The least change of a fill that is worth a word: drawPart of it, and drawL.
const (
	drawPart = 0.1
	drawL    = 2
)

// draws compares the treated water of day parts that have not begun, a sentence for a day.
func (c *changeWriter) draws(a, b []models.WaterDraw) {
	type at struct {
		date models.Date
		part string
	}
	was, is, parts := map[at]float64{}, map[at]float64{}, map[models.Date][]string{}
	note := func(list []models.WaterDraw, to map[at]float64) {
		for _, d := range list {
			to[at{d.Date, d.DayPart}] += d.DrawL
			if !slices.Contains(parts[d.Date], d.DayPart) {
				parts[d.Date] = append(parts[d.Date], d.DayPart)
			}
		}
	}
	note(a, was)
	note(b, is)
	for _, date := range keysOf(parts, nil) {
		var items []string
		for _, part := range parts[date] {
			if k := (at{date, part}); noticeable(was[k], is[k], drawPart, drawL) && !c.begun(date, part) {
				items = append(items, c.q.Say("change.draw", "is", c.q.Volume(is[k]), "was", c.q.Volume(was[k]), "part", part))
			}
		}
		if len(items) > 0 {
			c.say(changeWater, "change.water", "day", c.q.ShortDay(date), "items", c.q.Listed(items))
		}
	}
}

// The least change of a pull that is worth a word: pullG, and pullPart of it.
const (
	pullG    = 50
	pullPart = 0.05
)

// pulls compares the beans to take out, a line a day. Beans in an open bag are out already.
func (c *changeWriter) pulls(a, b []models.BeanPull) {
	type at struct {
		date        models.Date
		coffee, lot string
	}
	take := func(p models.BeanPull) float64 { return math.Max(0, p.G-p.OpenG) }
	before, seen := map[at]models.BeanPull{}, map[at]bool{}
	for _, p := range a {
		before[at{p.Date, p.Coffee, p.Lot}] = p
	}
	items := map[models.Date][]string{}
	note := func(p models.BeanPull, key string, args ...any) {
		c.noteTask(p.PullBy)
		items[p.Date] = append(items[p.Date], c.q.Say(key, append(args, "coffee", p.Coffee, "lot", p.Lot)...))
	}
	for _, p := range b {
		k := at{p.Date, p.Coffee, p.Lot}
		old, ok := before[k]
		seen[k] = true
		switch {
		case !noticeable(take(old), take(p), pullPart, pullG):
		case !ok || take(old) == 0:
			note(p, "change.pull_also", "mass", c.q.ExactMass(take(p)))
		case c.past(old.PullBy) && take(p) < take(old): // already taken out
		case take(p) == 0:
			note(old, "change.leave", "mass", c.q.ExactMass(take(old)))
		default:
			note(p, "change.pull", "mass", c.q.ExactMass(take(p)), "was", c.q.ExactMass(take(old)))
		}
	}
	for _, p := range a {
		if !seen[at{p.Date, p.Coffee, p.Lot}] && take(p) >= pullG && !c.past(p.PullBy) {
			note(p, "change.leave", "mass", c.q.ExactMass(take(p)))
		}
	}
	for _, date := range slices.Sorted(maps.Keys(items)) {
		c.say(changePull, "change.pulls", "day", c.q.ShortDay(date), "items", strings.Join(items[date], c.q.Say("said.semicolon")))
	}
}
