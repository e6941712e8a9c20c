package sheet

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/say"
)

// Kinds of change.
const (
	changeBatch   = "batch"
	changeIce     = "ice"
	changeWater   = "water"
	changePull    = "pull"
	changeDemand  = "demand"
	changeWarning = "warning"
)

// Changes describes how plan b differs from plan a, for the people of a site: until when nothing changes, then the batches by brewer in
// order of time, then ice, water, beans, demand and warnings. The first day with a difference is described in full, later days in a
// sentence each. It leaves out what is too small to act on, what was due before plan b was computed, and whatever has begun, which no
// plan can change.
func Changes(a, b models.Plan, s models.Setup) []models.Change {
	c := newChangeWriter(s)
	c.since = b.ComputedAt
	c.tasks(a, b)
	c.quiet()
	c.demand(a.Demand, b.Demand)
	c.warnings(a.Warnings, b.Warnings)
	return c.out
}

// sheetChanges describes how the tasks of a sheet published at an instant differ from those of the previous sheet.
func sheetChanges(before, now []models.Task, s models.Setup, at time.Time) []string {
	c := newChangeWriter(s)
	c.idsStay, c.since = true, at
	c.tasks(planOf(before), planOf(now))
	out := []string{}
	for _, ch := range c.out {
		out = append(out, ch.Text)
	}
	return out
}

// planOf puts the batches, quotas, fills and pulls of a sheet's tasks back together as parts of a plan.
func planOf(tasks []models.Task) models.Plan {
	var p models.Plan
	for _, t := range tasks {
		switch {
		case t.State == models.Skipped:
		case t.Kind == models.TaskBrew && t.Batch != nil:
			p.Batches = append(p.Batches, *t.Batch)
		case (t.Kind == models.TaskIceFill || t.Kind == models.TaskIceRefill) && t.Quota != nil:
			q := *t.Quota
			q.Loads = slices.DeleteFunc(slices.Clone(q.Loads), func(l models.IceLoad) bool { return !l.FillAt.Equal(t.At) })
			p.Ice.Quotas = append(p.Ice.Quotas, q)
		case t.Kind == models.TaskIceCheck && t.Quota != nil && t.Quota.LevelG > 0:
			p.Ice.Checks = append(p.Ice.Checks, *t.Quota)
		case t.Kind == models.TaskIceCheck && t.Quota != nil: // of earlier versions
			p.Ice.Quotas = append(p.Ice.Quotas, *t.Quota)
		case t.Kind == models.TaskWaterDraw && t.Draw != nil:
			p.Water = append(p.Water, *t.Draw)
		case t.Kind == models.TaskPull:
			p.Pulls = append(p.Pulls, t.Pulls...)
		}
	}
	return p
}

// changeWriter collects the changes between two plans.
type changeWriter struct {
	site      models.Site
	loc       *time.Location
	q         say.Voice
	beverages map[string]string // name by code
	drinks    map[string]string
	idsStay   bool      // batches have the ids of their tasks on both sides
	since     time.Time // whatever was due before is past; zero: nothing is
	first     time.Time // of the first task that changes
	out       []models.Change
}

func newChangeWriter(s models.Setup) *changeWriter {
	c := &changeWriter{site: s.Site, loc: s.Site.Location(), q: say.For(s.Site), beverages: map[string]string{}, drinks: map[string]string{}, out: []models.Change{}}
	for _, b := range s.Beverages {
		c.beverages[b.Code] = b.Name
	}
	for _, d := range s.Drinks {
		c.drinks[d.Code] = d.Name
	}
	return c
}

func (c *changeWriter) tasks(a, b models.Plan) {
	c.batches(a.Batches, b.Batches)
	c.loads(a.Ice.Quotas, b.Ice.Quotas)
	c.quotas(a.Ice.Quotas, b.Ice.Quotas)
	c.checks(a.Ice.Checks, b.Ice.Checks)
	c.draws(a.Water, b.Water)
	c.pulls(a.Pulls, b.Pulls)
}

func (c *changeWriter) say(kind, key string, args ...any) {
	c.out = append(c.out, models.Change{Kind: kind, Text: c.q.Say(key, args...)})
}

// noteTask notes that a task at an instant changes.
func (c *changeWriter) noteTask(at time.Time) {
	if c.first.IsZero() || at.Before(c.first) {
		c.first = at
	}
}

// quietFrom is the least time without a change that is worth a sentence.
const quietFrom = 45 * time.Minute

// quiet puts first until when nothing changes today: people at work want to know that above all.
func (c *changeWriter) quiet() {
	today := models.DateOf(c.first, c.loc) == models.DateOf(c.since, c.loc)
	if len(c.out) < 2 || !today || c.first.Sub(c.since) < quietFrom {
		return
	}
	c.out = slices.Insert(c.out, 0, models.Change{Kind: c.out[0].Kind, Text: c.q.Say("change.quiet", "at", c.q.ShortAt(c.first))})
}

func (c *changeWriter) beverage(code string) string { return cmp.Or(c.beverages[code], code) }

func (c *changeWriter) drink(code string) string { return cmp.Or(c.drinks[code], code) }

// past reports whether something due at t was past when the newer plan was made.
func (c *changeWriter) past(t time.Time) bool { return t.Before(c.since) }

// begun reports whether a day part had begun when the newer plan was made, which then covers only the rest of it.
func (c *changeWriter) begun(date models.Date, part string) bool {
	for _, p := range c.site.DayParts {
		if p.Code == part {
			return c.past(c.site.DayPartSpan(date, p).From)
		}
	}
	return !c.since.IsZero() && date <= models.DateOf(c.since, c.loc)
}

// noticeable reports whether a number changed by more than a part of itself and by at least an amount.
func noticeable(a, b, part, least float64) bool {
	d := math.Abs(a - b)
	return d >= least && d > part*math.Max(math.Abs(a), math.Abs(b))
}
