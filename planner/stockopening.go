package planner

import (
	"sort"
	"time"

	"hotday/models"
)

// thrown is stock to throw away before the plan begins.
type thrown struct {
	bev     int
	g       float64
	row     int // of stock
	expired bool
	until   time.Time
}

// keptBatch is a batch under way, which a replan keeps.
type keptBatch struct {
	task   *models.UnderWay
	row    int
	brewer int
	bev    int
	amounts
	busyMin float64
	t       times
	stocked bool // a stock row already includes it
}

// stock is the coffee on hand and under way when the plan begins.
type stock struct {
	opening []opening
	thrown  []thrown
	kept    []keptBatch
}

// stockAtStart reads the request's stock and the batches under way.
func stockAtStart(st *setting, recipes []*recipe) stock {
	kept := batchesUnderWay(st, recipes)
	opening, thrown := openStock(st, kept)
	return stock{opening, thrown, kept}
}

// batchesUnderWay returns the batches that are started or made.
func batchesUnderWay(st *setting, recipes []*recipe) (kept []keptBatch) {
	counted := map[int]bool{}
	for k := range st.req.UnderWay {
		u := &st.req.UnderWay[k]
		if u.Kind != models.TaskBrew && u.Kind != models.TaskChill && u.Kind != models.TaskStrain && u.Kind != models.TaskStore || u.Beverage == nil {
			continue
		}
		if u.Kind != models.TaskBrew && st.hasBrew(u) {
			continue // the same batch, further on
		}
		b := keptBatch{task: u, row: k, brewer: -1, bev: st.bevIndex[*u.Beverage]}
		rc := recipes[b.bev]
		g, w := 0.0, (*models.Brewer)(nil)
		if u.BeverageG != nil {
			g = *u.BeverageG
		}
		if u.Brewer != nil {
			for i := range st.req.Brewers {
				if st.req.Brewers[i].Code == *u.Brewer {
					b.brewer, w = i, &st.req.Brewers[i]
					b.busyMin = w.BusyMin
					if sizes := rc.sizes(w); len(sizes) > 0 && u.BeverageG == nil {
						g = sizes[len(sizes)-1].g
					}
				}
			}
		}
		b.amounts = rc.underWay(g, w)
		b.t = rc.timesOf(b.ext.BeverageG, b.busyMin)
		b.stocked = st.countedInStock(&b, counted)
		kept = append(kept, b)
	}
	return kept
}

// sameBatchWithin is the most that a batch's planned start, as on its later steps, may differ from its real start.
const sameBatchWithin = 90 * time.Minute

func (st *setting) hasBrew(u *models.UnderWay) bool {
	for k := range st.req.UnderWay {
		o := &st.req.UnderWay[k]
		sameBrewer := u.Brewer == nil || o.Brewer == nil || *u.Brewer == *o.Brewer
		if o.Kind == models.TaskBrew && o.Beverage != nil && *o.Beverage == *u.Beverage && sameBrewer && u.Start.Sub(o.Start).Abs() <= sameBatchWithin {
			return true
		}
	}
	return false
}

// countedInStock reports whether a stock row is this batch, that is, made between its start and half an hour after it was ready.
func (st *setting) countedInStock(b *keptBatch, counted map[int]bool) bool {
	if b.task.State != models.Made {
		return false
	}
	late := b.task.Start.Add(models.Minutes(b.t.ready + 30))
	for i, s := range st.req.Stock {
		if !counted[i] && s.Beverage == *b.task.Beverage && !s.MadeAt.Before(b.task.Start) && !s.MadeAt.After(late) {
			counted[i] = true
			return true
		}
	}
	return false
}

// busyNow returns when batches under way occupy a brewer.
func (s *stock) busyNow(brewer int) []models.Span {
	var out []models.Span
	for _, b := range s.kept {
		if b.brewer == brewer && b.task.State == models.Started {
			out = append(out, models.Span{From: b.task.Start, To: b.task.Start.Add(models.Minutes(b.busyMin))})
		}
	}
	return out
}

// openStock lists the lots on hand or under way before the first slot, and the stock to throw away first: past its use-by time, or
// over the size of the cold store, earliest expiry first.
func openStock(st *setting, kept []keptBatch) (lots []opening, gone []thrown) {
	for i, s := range st.req.Stock {
		bev := st.bevIndex[s.Beverage]
		o := opening{bev: bev, g: s.G, from: s.MadeAt, until: s.MadeAt.Add(models.Hours(st.req.Site.HoldH(&st.req.Beverages[bev]))), row: i}
		o.to = st.h.slotOf(o.until)
		if o.g <= 0 {
			continue
		}
		if !o.until.After(st.h.start) {
			gone = append(gone, thrown{bev: bev, g: o.g, row: i, expired: true, until: o.until})
			continue
		}
		lots = append(lots, o)
	}
	sort.SliceStable(lots, func(a, b int) bool { return lots[a].until.Before(lots[b].until) })
	over := -st.req.Site.StoreG
	for _, o := range lots {
		over += o.g
	}
	for i := range lots {
		if o := &lots[i]; over > 0 && o.g > 0 {
			g := min(o.g, over)
			o.g -= g
			over -= g
			if o.g < 1e-6 {
				o.g = 0
			}
			gone = append(gone, thrown{bev: o.bev, g: g, row: o.row, until: o.until})
		}
	}
	for k, b := range kept {
		if b.stocked || b.g <= 0 {
			continue
		}
		ready := b.task.Start.Add(models.Minutes(b.t.ready))
		until := ready.Add(models.Hours(st.req.Site.HoldH(&st.req.Beverages[b.bev])))
		if !until.After(st.h.start) {
			continue
		}
		o := opening{bev: b.bev, g: b.g, from: ready, until: until, row: -1, kept: k, ready: max(0, st.h.slotFrom(ready)), to: st.h.slotOf(until)}
		if o.ready == 0 { // in the store already: it must fit beside the rest
			room := st.req.Site.StoreG
			for _, x := range lots {
				if x.ready == 0 {
					room -= x.g
				}
			}
			if o.g > room {
				gone = append(gone, thrown{bev: b.bev, g: o.g - max(0, room), row: -1, until: until})
				o.g = max(0, room)
			}
		}
		lots = append(lots, o)
	}
	return lots, gone
}
