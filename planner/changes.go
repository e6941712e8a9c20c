package planner

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
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

// Changes says in words what plan b does otherwise than plan a, times in loc: first the batches in order of time, then ice,
// water, beans, demand and warnings. Differences too small to act on are left out, and so is what plan a had for the time before
// plan b was computed: that is past, made or not, and no plan can change it.
func Changes(a, b models.Plan, loc *time.Location) []models.Change {
	c := changeWriter{loc: loc, since: b.ComputedAt, out: []models.Change{}}
	c.batches(a.Batches, b.Batches)
	c.loads(a.Ice.Quotas, b.Ice.Quotas)
	c.quotas(a.Ice.Quotas, b.Ice.Quotas)
	c.draws(a.Water, b.Water)
	c.pulls(a.Pulls, b.Pulls)
	c.demand(a.Demand, b.Demand)
	c.warnings(a.Warnings, b.Warnings)
	return c.out
}

// sheetChanges says what the tasks of a sheet differ in from those of the sheet before.
func sheetChanges(before, now []models.Task, names map[string]string, loc *time.Location) []string {
	a, b := planOf(before), planOf(now)
	c := changeWriter{loc: loc, names: names, idsStay: true}
	c.batches(a.Batches, b.Batches)
	c.loads(a.Ice.Quotas, b.Ice.Quotas)
	c.quotas(a.Ice.Quotas, b.Ice.Quotas)
	c.draws(a.Water, b.Water)
	c.pulls(a.Pulls, b.Pulls)
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
	loc     *time.Location
	names   map[string]string // of beverages; codes where it has none
	idsStay bool
	since   time.Time // what was due before is past; zero: nothing is
	out     []models.Change
}

func (c *changeWriter) say(kind, format string, args ...any) {
	c.out = append(c.out, models.Change{Kind: kind, Text: fmt.Sprintf(format, args...)})
}

func (c *changeWriter) name(code string) string { return cmp.Or(c.names[code], code) }

// past reports whether something due at t was over when the newer plan was made.
func (c *changeWriter) past(t time.Time) bool { return t.Before(c.since) }

// over reports whether a service day's part that the newer plan has nothing for lies, as far as its date tells, in the past.
func (c *changeWriter) over(d models.Date) bool {
	return !c.since.IsZero() && d <= models.DateOf(c.since, c.loc)
}

// when is a time, with its weekday: the plans may span several days.
func (c *changeWriter) when(t time.Time) string { return t.In(c.loc).Format("Mon 15:04") }

// noticeable reports whether a number changed by more than a twentieth and by at least least.
func noticeable(a, b, least float64) bool {
	d := math.Abs(a - b)
	return d >= least && d > 0.05*math.Max(math.Abs(a), math.Abs(b))
}

// batchGrams and batchPart are the least change of a batch that is worth a word, g and of the batch.
const (
	batchGrams = 50
	batchPart  = 0.02
)

func (c *changeWriter) batches(a, b []models.BatchTask) {
	pairs, gone, come := c.pairBatches(a, b)
	type line struct {
		at   time.Time
		text string
	}
	var lines []line
	for _, p := range pairs {
		if text := c.batch(p[0], p[1]); text != "" {
			lines = append(lines, line{p[1].Start, text})
		}
	}
	for _, x := range gone {
		if c.past(x.Start) {
			continue
		}
		lines = append(lines, line{x.Start, fmt.Sprintf("%s on %s %s falls away (%s)", c.name(x.Beverage), x.Brewer, c.when(x.Start), sheetGrams(x.BeverageG))})
	}
	for _, x := range come {
		lines = append(lines, line{x.Start, fmt.Sprintf("One more batch: %s on %s %s, %s", c.name(x.Beverage), x.Brewer, c.when(x.Start), sheetGrams(x.BeverageG))})
	}
	slices.SortStableFunc(lines, func(x, y line) int { return cmp.Or(x.at.Compare(y.at), strings.Compare(x.text, y.text)) })
	for _, l := range lines {
		c.say(changeBatch, "%s", l.text)
	}
}

func (c *changeWriter) batch(a, b *models.BatchTask) string {
	var parts []string
	switch {
	case a.Start.Equal(b.Start):
	case a.Start.In(c.loc).Format(time.DateOnly) == b.Start.In(c.loc).Format(time.DateOnly):
		parts = append(parts, c.when(a.Start)+" → "+sheetClock(b.Start, c.loc))
	default:
		parts = append(parts, c.when(a.Start)+" → "+c.when(b.Start))
	}
	if d := b.BeverageG - a.BeverageG; math.Abs(d) >= math.Max(batchGrams, batchPart*a.BeverageG) {
		parts = append(parts, sheetSigned(d))
	}
	where := b.Brewer
	if a.Brewer != b.Brewer {
		where = b.Brewer + " instead of " + a.Brewer
	}
	if len(parts) == 0 && a.Brewer == b.Brewer {
		return ""
	}
	if a.Start.Equal(b.Start) {
		parts = append([]string{c.when(b.Start)}, parts...)
	}
	return fmt.Sprintf("%s on %s %s", c.name(b.Beverage), where, strings.Join(parts, ", "))
}

// pairBatches finds the batches of a again in b: by id where ids stay (on sheets; a plan numbers anew), then in order of time on
// the same brewer, then on another, never farther than farApart.
func (c *changeWriter) pairBatches(a, b []models.BatchTask) (pairs [][2]*models.BatchTask, gone, come []*models.BatchTask) {
	usedA, usedB := make([]bool, len(a)), make([]bool, len(b))
	pair := func(i, j int) {
		usedA[i], usedB[j] = true, true
		pairs = append(pairs, [2]*models.BatchTask{&a[i], &b[j]})
	}
	if c.idsStay {
		for i := range a {
			if j := slices.IndexFunc(b, func(x models.BatchTask) bool { return x.ID == a[i].ID }); j >= 0 {
				pair(i, j)
			}
		}
	}
	for _, sort := range []func(*models.BatchTask) string{
		func(x *models.BatchTask) string { return x.Brewer + "\x00" + x.Beverage },
		func(x *models.BatchTask) string { return x.Beverage },
	} {
		before, now := unpaired(a, usedA, sort), unpaired(b, usedB, sort)
		for _, key := range keysOf(before, now) {
			x, y := before[key], now[key]
			old, times, free := make([]oldTask, len(x)), make([]time.Time, len(y)), make([]int, len(y))
			for k, i := range x {
				old[k] = oldTask{at: a[i].Start}
			}
			for k, j := range y {
				times[k], free[k] = b[j].Start, k
			}
			for k, o := range nearest(times, free, old) {
				if o >= 0 {
					pair(x[o], y[k])
				}
			}
		}
	}
	for i := range a {
		if !usedA[i] {
			gone = append(gone, &a[i])
		}
	}
	for j := range b {
		if !usedB[j] {
			come = append(come, &b[j])
		}
	}
	return pairs, gone, come
}

// unpaired are the indices of the batches not yet paired, by sort, in order of time.
func unpaired(list []models.BatchTask, used []bool, sort func(*models.BatchTask) string) map[string][]int {
	out := map[string][]int{}
	for i := range list {
		if !used[i] {
			k := sort(&list[i])
			out[k] = append(out[k], i)
		}
	}
	for _, of := range out {
		slices.SortStableFunc(of, func(i, j int) int { return list[i].Start.Compare(list[j].Start) })
	}
	return out
}
