package sheet

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"hotday/models"
)

// The least change in size of a batch that is worth a word: batchGrams, and batchPart of the batch.
const (
	batchGrams = 100
	batchPart  = 0.03
)

// batchChange is a batch before and after: was is nil for a new batch, is for a cancelled one.
type batchChange struct{ was, is *models.BatchTask }

// batch is the batch after the change, or the cancelled one.
func (x batchChange) batch() *models.BatchTask {
	if x.is != nil {
		return x.is
	}
	return x.was
}

// at is when the change first matters: the earlier start.
func (x batchChange) at() time.Time {
	if x.is != nil && x.was != nil && x.was.Start.Before(x.is.Start) {
		return x.was.Start
	}
	return x.batch().Start
}

func (x batchChange) moved() time.Duration {
	if x.is == nil || x.was == nil {
		return 0
	}
	return x.is.Start.Sub(x.was.Start)
}

// grown is the change in size, g, 0 where it is not worth a word.
func (x batchChange) grown() float64 {
	if x.is == nil || x.was == nil {
		return 0
	}
	if d := x.is.BeverageG - x.was.BeverageG; math.Abs(d) >= math.Max(batchGrams, batchPart*x.was.BeverageG) {
		return d
	}
	return 0
}

func (x batchChange) nothing() bool {
	return x.is != nil && x.was != nil && x.moved() == 0 && x.grown() == 0 && x.is.Brewer == x.was.Brewer
}

// inFull is how many differences of a later day are still described one by one.
const inFull = 2

func (c *changeWriter) batches(a, b []models.BatchTask) {
	var list []batchChange
	pairs, gone, come := c.pairBatches(a, b)
	for _, p := range pairs {
		if x := (batchChange{p[0], p[1]}); !x.nothing() {
			list = append(list, x)
		}
	}
	for _, x := range gone {
		if !c.past(x.Start) {
			list = append(list, batchChange{was: x})
		}
	}
	for _, x := range come {
		list = append(list, batchChange{is: x})
	}
	slices.SortStableFunc(list, func(x, y batchChange) int {
		return cmp.Or(x.batch().Start.Compare(y.batch().Start), strings.Compare(x.batch().Brewer, y.batch().Brewer))
	})
	for _, x := range list {
		if !c.past(x.at()) {
			c.noteTask(x.at())
		} else {
			c.noteTask(x.batch().Start)
		}
	}
	days := map[models.Date][]batchChange{}
	for _, x := range list {
		d := models.DateOf(x.batch().Start, c.loc)
		days[d] = append(days[d], x)
	}
	for k, d := range keysOf(days, nil) {
		if k == 0 || len(days[d]) <= inFull {
			c.batchesOf(days[d])
		} else {
			c.batchDay(d, days[d], a, b)
		}
	}
}

// batchDay describes a later day in a sentence.
func (c *changeWriter) batchDay(d models.Date, list []batchChange, a, b []models.BatchTask) {
	was, is := c.madeOn(d, a), c.madeOn(d, b)
	key := "change.day"
	if noticeable(was, is, 0.02, 500) {
		key = "change.day_made"
	}
	c.say(changeBatch, key, "day", c.q.DayName(d), "what", c.countChanges(list), "mass", c.q.GlanceMass(is), "was", c.q.GlanceMass(was))
}

// countChanges says how many batches of a list change in which way.
func (c *changeWriter) countChanges(list []batchChange) string {
	more, fewer, moved, other := 0, 0, 0, 0
	most := time.Duration(0)
	for _, x := range list {
		switch {
		case x.was == nil:
			more++
		case x.is == nil:
			fewer++
		case x.moved() != 0:
			moved++
			most = max(most, x.moved().Abs())
		default:
			other++
		}
	}
	var parts []string
	for _, p := range []struct {
		n   int
		key string
	}{{moved, "change.moved"}, {other, "change.other"}, {more, "change.more"}, {fewer, "change.fewer"}} {
		if p.n > 0 {
			parts = append(parts, c.q.Say(p.key, "n", p.n, "time", c.q.Span(most)))
		}
	}
	return c.q.Listed(parts)
}

func (c *changeWriter) madeOn(d models.Date, list []models.BatchTask) float64 {
	g := 0.0
	for i := range list {
		if models.DateOf(list[i].Start, c.loc) == d {
			g += list[i].BeverageG
		}
	}
	return g
}

// batchesOf describes the differences of a day by brewer, in order of each brewer's first.
func (c *changeWriter) batchesOf(list []batchChange) {
	var brewers []string
	of := map[string][]batchChange{}
	for _, x := range list {
		code := x.batch().Brewer
		if of[code] == nil {
			brewers = append(brewers, code)
		}
		of[code] = append(of[code], x)
	}
	for _, code := range brewers {
		mine := of[code]
		if len(mine) == 1 {
			c.out = append(c.out, models.Change{Kind: changeBatch, Text: c.oneBatch(mine[0])})
			continue
		}
		c.say(changeBatch, "change.brewer", "brewer", code, "day", c.q.ShortWeekday(mine[0].batch().Start), "items", strings.Join(c.brewerItems(mine), c.q.Say("said.semicolon")))
	}
}

// oneBatch describes a difference in a sentence of its own.
func (c *changeWriter) oneBatch(x batchChange) string {
	b := x.batch()
	switch {
	case x.is == nil:
		return c.q.Say("change.gone", "beverage", c.beverage(b.Beverage), "brewer", b.Brewer, "at", c.q.ShortAt(b.Start), "mass", c.q.ExactMass(b.BeverageG))
	case x.was == nil:
		return c.q.Say("change.come", "beverage", c.beverage(b.Beverage), "brewer", b.Brewer, "at", c.q.ShortAt(b.Start), "mass", c.q.ExactMass(b.BeverageG))
	}
	key := "change.batch"
	if x.was.Brewer != b.Brewer {
		key = "change.batch_brewer"
	}
	text := c.q.Say(key, "beverage", c.beverage(b.Beverage), "brewer", b.Brewer, "was", x.was.Brewer, "at", c.q.ShortAt(x.was.Start))
	if x.moved() != 0 {
		text += c.q.Say("change.to", "at", c.q.Moment(b.Start, x.was.Start))
	}
	if d := x.grown(); d != 0 {
		text += c.q.Say("change.by", "mass", c.q.MassChange(d))
	}
	return text
}

// mostItems is how many differences of a brewer on a day are listed; the rest are counted.
const mostItems = 6

// brewerItems describes the differences of a brewer on a day; neighbours that move alike are one item.
func (c *changeWriter) brewerItems(list []batchChange) []string {
	var out []string
	var from []int // of list, by item
	for i := 0; i < len(list); {
		n := 1
		for i+n < len(list) && alike(list[i], list[i+n]) {
			n++
		}
		if n > 1 {
			out = append(out, c.movedAlike(list[i:i+n]))
		} else {
			out = append(out, c.brewerItem(list[i]))
		}
		from = append(from, i)
		i += n
	}
	if len(out) > mostItems {
		rest := list[from[mostItems-1]:]
		out = append(out[:mostItems-1], c.q.Say("change.rest", "at", c.q.Clock(rest[0].batch().Start), "what", c.countChanges(rest)))
	}
	return out
}

// alike reports whether two batches move by the same time and neither changes its brewer or size.
func alike(x, y batchChange) bool {
	return x.moved() != 0 && x.moved() == y.moved() && x.grown() == 0 && y.grown() == 0 && x.was.Brewer == x.is.Brewer && y.was.Brewer == y.is.Brewer
}

func (c *changeWriter) movedAlike(list []batchChange) string {
	var names []string
	for _, x := range list {
		names = append(names, c.q.Say("change.item", "beverage", c.beverage(x.is.Beverage), "at", c.q.Clock(x.was.Start)))
	}
	key := "change.alike_later"
	if list[0].moved() < 0 {
		key = "change.alike_earlier"
	}
	return c.q.Say(key, "batches", c.q.Listed(names), "time", c.q.Span(list[0].moved().Abs()))
}

func (c *changeWriter) brewerItem(x batchChange) string {
	b := x.batch()
	switch {
	case x.is == nil:
		return c.q.Say("change.item_gone", "beverage", c.beverage(b.Beverage), "at", c.q.Clock(b.Start), "mass", c.q.ExactMass(b.BeverageG))
	case x.was == nil:
		return c.q.Say("change.item_come", "beverage", c.beverage(b.Beverage), "at", c.q.Clock(b.Start), "mass", c.q.ExactMass(b.BeverageG))
	}
	text := c.q.Say("change.item", "beverage", c.beverage(b.Beverage), "at", c.q.Moment(x.was.Start, b.Start))
	if x.moved() != 0 {
		text += c.q.Say("change.to", "at", c.q.Clock(b.Start))
	}
	if x.was.Brewer != b.Brewer {
		text += c.q.Say("change.not_on", "was", x.was.Brewer)
	}
	if d := x.grown(); d != 0 {
		text += c.q.Say("change.by", "mass", c.q.MassChange(d))
	}
	return text
}

// pairBatches matches the batches of a with those of b: by id where ids stay (on sheets; each plan has its own numbers), then in order of
// time on the same brewer, then on another, never farther apart than farApart. Batches that have begun in b are not returned, nor are
// their counterparts in a.
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
	} else {
		c.pairBegun(a, b, usedA, usedB)
	}
	for _, sort := range []func(*models.BatchTask) string{
		func(x *models.BatchTask) string { return x.Brewer + "\x00" + x.Beverage },
		func(x *models.BatchTask) string { return x.Beverage },
	} {
		before, now := unpaired(a, usedA, sort), unpaired(b, usedB, sort)
		for _, key := range keysOf(before, now) {
			x, y := before[key], now[key]
			for k, o := range nearestStarts(a, x, b, y) {
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

// pairBegun sets aside the batches that have begun, in either plan, with their counterparts.
func (c *changeWriter) pairBegun(a, b []models.BatchTask, usedA, usedB []bool) {
	due := func(x *models.BatchTask) bool { return x.State == models.Due || x.State == "" }
	place := func(x *models.BatchTask) string { return x.Brewer + "\x00" + x.Beverage }
	was, is := map[string][]int{}, map[string][]int{}
	for i := range a {
		if !due(&a[i]) || c.past(a[i].Start) {
			was[place(&a[i])] = append(was[place(&a[i])], i)
		}
	}
	for j := range b {
		if !due(&b[j]) {
			is[place(&b[j])] = append(is[place(&b[j])], j)
			usedB[j] = true
		}
	}
	for key, y := range is {
		for _, o := range nearestStarts(a, was[key], b, y) {
			if o >= 0 {
				usedA[was[key][o]] = true
			}
		}
	}
	for i := range a {
		usedA[i] = usedA[i] || !due(&a[i])
	}
}

// nearestStarts matches the batches y of b with the batches x of a by their starts. For each of y it returns the index in x, or −1.
func nearestStarts(a []models.BatchTask, x []int, b []models.BatchTask, y []int) []int {
	old, times, free := make([]oldTask, len(x)), make([]time.Time, len(y)), make([]int, len(y))
	for k, i := range x {
		old[k] = oldTask{at: a[i].Start}
	}
	for k, j := range y {
		times[k], free[k] = b[j].Start, k
	}
	return nearest(times, free, old)
}

// unpaired are the indices of the batches not yet matched, in order of time, by the key that sort gives them.
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
