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

// Changes says in words what plan b does otherwise than plan a, for the people of a site: how long nothing changes, then the
// batches by brewer in order of time, then ice, water, beans, demand and warnings. The first day with a difference is told in full,
// later days in a sentence each. Left out is what is too small to act on, what was due before plan b was computed, and what is
// begun: no plan can change it.
func Changes(a, b models.Plan, s models.Setup) []models.Change {
	c := newChangeWriter(s)
	c.since = b.ComputedAt
	c.tasks(a, b)
	c.quiet()
	c.demand(a.Demand, b.Demand)
	c.warnings(a.Warnings, b.Warnings)
	return c.out
}

// sheetChanges says what the tasks of a sheet published at the time at differ in from those of the sheet before.
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

// planOf gathers what a sheet's tasks say as the parts of a plan.
func planOf(tasks []models.Task) models.Plan {
	var p models.Plan
	for _, t := range tasks {
		switch {
		case t.State == models.Skipped:
		case t.Kind == models.TaskBrew && t.Batch != nil:
			p.Batches = append(p.Batches, *t.Batch)
		case (t.Kind == models.TaskIceFill || t.Kind == models.TaskIceCheck) && t.Quota != nil:
			p.Ice.Quotas = append(p.Ice.Quotas, *t.Quota)
		case t.Kind == models.TaskWaterDraw && t.Draw != nil:
			p.Water = append(p.Water, *t.Draw)
		case t.Kind == models.TaskPull && t.Pull != nil:
			p.Pulls = append(p.Pulls, *t.Pull)
		}
	}
	return p
}

type changeWriter struct {
	site    models.Site
	loc     *time.Location
	q       say.Voice
	names   map[string]string // of beverages and drinks; codes where they have none
	idsStay bool
	since   time.Time // what was due before is past; zero: nothing is
	first   time.Time // when the first thing that somebody does changes
	out     []models.Change
}

func newChangeWriter(s models.Setup) *changeWriter {
	c := &changeWriter{site: s.Site, loc: s.Site.Location(), q: say.For(s.Site), names: map[string]string{}, out: []models.Change{}}
	for _, b := range s.Beverages {
		c.names[b.Code] = b.Name
	}
	for _, d := range s.Drinks {
		c.names["drink "+d.Code] = d.Name
	}
	return c
}

func (c *changeWriter) tasks(a, b models.Plan) {
	c.batches(a.Batches, b.Batches)
	c.loads(a.Ice.Quotas, b.Ice.Quotas)
	c.quotas(a.Ice.Quotas, b.Ice.Quotas)
	c.draws(a.Water, b.Water)
	c.pulls(a.Pulls, b.Pulls)
}

func (c *changeWriter) say(kind, key string, args ...any) {
	c.out = append(c.out, models.Change{Kind: kind, Text: c.q.Say(key, args...)})
}

// act notes when something that somebody does changes.
func (c *changeWriter) act(at time.Time) {
	if c.first.IsZero() || at.Before(c.first) {
		c.first = at
	}
}

// quietFrom is from how long without a change on it is worth a sentence.
const quietFrom = 45 * time.Minute

// quiet says first how long nothing changes today: who is at work wants to know that above all.
func (c *changeWriter) quiet() {
	today := models.DateOf(c.first, c.loc) == models.DateOf(c.since, c.loc)
	if len(c.out) < 2 || !today || c.first.Sub(c.since) < quietFrom {
		return
	}
	c.out = slices.Insert(c.out, 0, models.Change{Kind: c.out[0].Kind, Text: c.q.Say("change.quiet", "at", c.when(c.first))})
}

func (c *changeWriter) name(code string) string { return cmp.Or(c.names[code], code) }

func (c *changeWriter) drink(code string) string { return cmp.Or(c.names["drink "+code], code) }

// past reports whether something due at t was over when the newer plan was made.
func (c *changeWriter) past(t time.Time) bool { return t.Before(c.since) }

// begun reports whether a day part had begun when the newer plan was made: what that plan says of it is only the rest.
func (c *changeWriter) begun(date models.Date, part string) bool {
	for _, p := range c.site.DayParts {
		if p.Code == part {
			return c.past(c.site.PartSpan(date, p).From)
		}
	}
	return !c.since.IsZero() && date <= models.DateOf(c.since, c.loc)
}

// when is a time, with its weekday: the plans may span several days.
func (c *changeWriter) when(t time.Time) string {
	return c.q.Say("date.at", "day", c.q.ShortWeekday(t), "clock", c.q.Clock(t))
}

// noticeable reports whether a number changed by more than a part of it and by at least least.
func noticeable(a, b, part, least float64) bool {
	d := math.Abs(a - b)
	return d >= least && d > part*math.Max(math.Abs(a), math.Abs(b))
}
