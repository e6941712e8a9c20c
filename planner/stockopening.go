package planner

import (
	"sort"
	"time"

	"hotday/models"
)

// thrown is stock that goes before the plan begins.
type thrown struct {
	bev     int
	g       float64
	row     int // of stock
	expired bool
	until   time.Time
}

// keptBatch is a batch under way: a replan keeps it.
type keptBatch struct {
	task    *models.UnderWay
	row     int
	brewer  int
	bev     int
	doseG   float64
	g       float64
	busyMin float64
	t       times
	stocked bool // a stock row counts it already
}

// underWay reads the batches that are started or made.
func (j *job) underWay() {
	counted := map[int]bool{}
	for k := range j.req.UnderWay {
		u := &j.req.UnderWay[k]
		if u.Kind != models.TaskBrew && u.Kind != models.TaskChill && u.Kind != models.TaskStrain || u.Beverage == nil {
			continue
		}
		if u.Kind != models.TaskBrew && j.hasBrew(u) {
			continue // the same batch, further on
		}
		b := keptBatch{task: u, row: k, brewer: -1, bev: j.bevIndex[*u.Beverage]}
		rc := j.recipes[b.bev]
		if u.BeverageG != nil {
			b.g = *u.BeverageG
		}
		if u.Brewer != nil {
			for i := range j.req.Brewers {
				if j.req.Brewers[i].Code == *u.Brewer {
					b.brewer = i
					b.busyMin = j.req.Brewers[i].BusyMin
					if _, hi, ok := rc.limits(&j.req.Brewers[i]); ok && u.BeverageG == nil {
						b.g = hi
					}
				}
			}
		}
		b.doseG = rc.doseFor(b.g)
		b.t = rc.timesOf(b.doseG, b.busyMin)
		b.stocked = j.countedInStock(&b, counted)
		j.kept = append(j.kept, b)
	}
}

// sameBatchWithin is how far the planned start of a batch, which its later steps bear, may lie from when it really began.
const sameBatchWithin = 90 * time.Minute

func (j *job) hasBrew(u *models.UnderWay) bool {
	for k := range j.req.UnderWay {
		o := &j.req.UnderWay[k]
		sameBrewer := u.Brewer == nil || o.Brewer == nil || *u.Brewer == *o.Brewer
		if o.Kind == models.TaskBrew && o.Beverage != nil && *o.Beverage == *u.Beverage && sameBrewer && u.Start.Sub(o.Start).Abs() <= sameBatchWithin {
			return true
		}
	}
	return false
}

// countedInStock reports whether a stock row is this batch: made between its start and half an hour after it was ready.
func (j *job) countedInStock(b *keptBatch, counted map[int]bool) bool {
	if b.task.State != models.Made {
		return false
	}
	late := b.task.Start.Add(models.Minutes(b.t.ready + 30))
	for i, s := range j.req.Stock {
		if !counted[i] && s.Beverage == *b.task.Beverage && !s.MadeAt.Before(b.task.Start) && !s.MadeAt.After(late) {
			counted[i] = true
			return true
		}
	}
	return false
}

// busyNow is when batches under way still take the brewer.
func (j *job) busyNow(brewer int) []models.Span {
	var out []models.Span
	for _, b := range j.kept {
		if b.brewer == brewer && b.task.State == models.Started {
			out = append(out, models.Span{From: b.task.Start, To: b.task.Start.Add(models.Minutes(b.busyMin))})
		}
	}
	return out
}

// openStock lines up what is there, or under way, before the first slot; what is past its time, or does not fit the cold store,
// is thrown away first, earliest expiry first.
func (j *job) openStock() {
	for i, s := range j.req.Stock {
		bev := j.bevIndex[s.Beverage]
		o := opening{bev: bev, g: s.G, from: s.MadeAt, until: s.MadeAt.Add(models.Hours(j.req.Site.HoldH(&j.req.Beverages[bev]))), row: i}
		o.to = j.h.slotOf(o.until)
		if o.g <= 0 {
			continue
		}
		if !o.until.After(j.h.start) {
			j.thrown = append(j.thrown, thrown{bev: bev, g: o.g, row: i, expired: true, until: o.until})
			continue
		}
		j.opening = append(j.opening, o)
	}
	sort.SliceStable(j.opening, func(a, b int) bool { return j.opening[a].until.Before(j.opening[b].until) })
	over := -j.req.Site.StoreG
	for _, o := range j.opening {
		over += o.g
	}
	for i := range j.opening {
		if o := &j.opening[i]; over > 0 && o.g > 0 {
			g := min(o.g, over)
			o.g -= g
			over -= g
			if o.g < 1e-6 {
				o.g = 0
			}
			j.thrown = append(j.thrown, thrown{bev: o.bev, g: g, row: o.row, until: o.until})
		}
	}
	for _, b := range j.kept {
		if b.stocked || b.g <= 0 {
			continue
		}
		ready := b.task.Start.Add(models.Minutes(b.t.ready))
		until := ready.Add(models.Hours(j.req.Site.HoldH(&j.req.Beverages[b.bev])))
		if !until.After(j.h.start) {
			continue
		}
		o := opening{bev: b.bev, g: b.g, from: ready, until: until, row: -1, ready: max(0, j.h.slotFrom(ready)), to: j.h.slotOf(until)}
		if o.ready == 0 { // there already: it must fit beside the rest
			room := j.req.Site.StoreG
			for _, x := range j.opening {
				if x.ready == 0 {
					room -= x.g
				}
			}
			if o.g > room {
				j.thrown = append(j.thrown, thrown{bev: b.bev, g: o.g - max(0, room), row: -1, until: until})
				o.g = max(0, room)
			}
		}
		j.opening = append(j.opening, o)
	}
}
