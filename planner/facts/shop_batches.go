package facts

import (
	"cmp"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/learnt"
)

// doneBatch is a batch with what was marked at any of its tasks.
type doneBatch struct {
	task      models.BatchTask
	start     time.Time // of the brew
	made      time.Time // when it was ready; zero while it is not made
	beverageG *float64
	tdsPct    *float64
	readings  []reading
}

// reading is a temperature read in a batch.
type reading struct {
	at    time.Time
	tempC float64
}

// batches are the batches marked as started or made, in order of their start.
func (w *shopWatch) batches() []doneBatch {
	byID := map[string]*doneBatch{}
	var order []string
	for i := range w.tasks {
		t := &w.tasks[i]
		if t.task.Batch == nil || t.task.Kind == models.TaskDiscard {
			continue
		}
		id := cmp.Or(t.task.Batch.ID, t.task.ID)
		b := byID[id]
		if b == nil {
			brew := w.brewOf(t)
			b = &doneBatch{task: *t.task.Batch, start: brew.start}
			byID[id] = b
			order = append(order, id)
		}
		if t.mark.TempC != nil {
			b.readings = append(b.readings, reading{t.mark.At, *t.mark.TempC})
		}
		if t.task.Kind == models.TaskTempLog {
			continue // its mark says nothing about the batch's state
		}
		b.beverageG, b.tdsPct = cmp.Or(t.mark.BeverageG, b.beverageG), cmp.Or(t.mark.TDSPct, b.tdsPct)
		if ready := b.start.Add(b.task.Ready.Sub(b.task.Start)); t.mark.State == models.Made && !ready.After(w.q.Now) {
			b.made = ready
		}
	}
	out := make([]doneBatch, 0, len(order))
	for _, id := range order {
		out = append(out, *byID[id])
	}
	slices.SortStableFunc(out, func(a, b doneBatch) int { return a.start.Compare(b.start) })
	return out
}

// weighed adds a batch that was weighed or whose strength was measured.
func (w *shopWatch) weighed(out *learnt.Observed, code string, b *doneBatch) {
	since := w.sinceBeverage(code, func(x *models.Beverage) any {
		return []any{x.Method, x.Coffee, x.Ratio, x.IceShare, x.RetainedRatio, x.MaxYieldPct, x.SteepH, x.SteepTempC}
	})
	if b.beverageG == nil && b.tdsPct == nil || b.start.Before(since) {
		return
	}
	x := learnt.Brewed{Brewer: b.task.Brewer, DoseG: b.task.DoseG, WaterG: b.task.BrewWaterG, IceG: b.task.IceG}
	if b.beverageG != nil {
		x.BeverageG = *b.beverageG
	}
	if b.tdsPct != nil {
		x.TDSPct = *b.tdsPct
	}
	out.Batches[code] = append(out.Batches[code], x)
}

// cooled adds the temperatures read in a batch that cools in one go, from its brewer to the ice, or to the cold store where no ice goes in.
func (w *shopWatch) cooled(out *learnt.Observed, code string, b *doneBatch) {
	i := slices.IndexFunc(w.r.Beverages, func(x models.Beverage) bool { return x.Code == code })
	if i < 0 || len(b.readings) == 0 {
		return
	}
	bev := &w.r.Beverages[i]
	k := slices.IndexFunc(w.r.Brewers, func(x models.Brewer) bool { return x.Code == b.task.Brewer })
	since := w.sinceBeverage(code, func(x *models.Beverage) any {
		return []any{x.Bath, x.BathTempC, x.CoolingUAWPerK, x.MeasuredCoolingMin, x.RestTempC}
	})
	if k < 0 || bev.Method == models.Steeped || bev.RestTempC != nil || b.start.Before(since) {
		return
	}
	left := b.start.Add(models.Minutes(w.r.Brewers[k].BusyMin))
	for _, r := range b.readings {
		x := learnt.Cooled{MassG: b.task.BeverageG - b.task.IceG, FromC: b.task.BrewerOutTempC, AmbientC: learnt.AmbientC(&w.r.Site, bev), Minutes: r.at.Sub(left).Minutes(), ReadC: r.tempC}
		iced := !b.task.IceAt.IsZero() && r.at.After(b.start.Add(b.task.IceAt.Sub(b.task.Start)).Add(readingSlack))
		if !iced && x.Minutes > 1 && x.ReadC > x.AmbientC+nearAmbientK && x.ReadC < x.FromC {
			out.Readings[code] = append(out.Readings[code], x)
		}
	}
}

const (
	readingSlack = 5 * time.Minute // a reading this long after the ice was due still counts as before it
	nearAmbientK = 1.0             // closer to its surroundings a batch says little about how fast it cools
)

// ended is how long the batches of a beverage were kept: until they were thrown away, or used up. Drinks and discards take from the oldest
// batch first.
func (w *shopWatch) ended(b *models.Beverage) []learnt.Ended {
	since := w.sinceBeverage(b.Code, func(x *models.Beverage) any { return []any{x.HoldH, x.Method} })
	type lot struct {
		ready   time.Time
		g, left float64
	}
	type use struct {
		at     time.Time
		g      float64
		poured bool
	}
	var lots []lot
	for _, d := range w.batches() {
		if d.task.Beverage == b.Code && !d.made.IsZero() && d.made.After(since) {
			g := d.task.BeverageG
			if d.beverageG != nil {
				g = *d.beverageG
			}
			lots = append(lots, lot{d.made, g, g})
		}
	}
	var uses []use
	for _, c := range w.changes {
		switch {
		case c.Beverage == nil || *c.Beverage != b.Code || c.G == nil || c.At.Before(since):
		case c.Kind == "discarded":
			uses = append(uses, use{c.At, *c.G, true})
		default:
			lots = append(lots, lot{c.At, *c.G, *c.G})
		}
	}
	for i := range w.tasks {
		if t := &w.tasks[i]; t.task.Kind == models.TaskDiscard && t.mark.State == models.Made && discarded(w.r.Beverages, &t.task) == b.Code && t.mark.BeverageG != nil {
			uses = append(uses, use{t.mark.At, *t.mark.BeverageG, true})
		}
	}
	grams := map[string]float64{}
	for i := range w.r.Drinks {
		for _, u := range w.r.Drinks[i].Uses {
			if u.Beverage == b.Code {
				grams[w.r.Drinks[i].Code] += w.r.Site.UsedG(u.G)
			}
		}
	}
	for _, s := range w.sold {
		if g := s.servings * grams[s.drink]; g > 0 {
			uses = append(uses, use{s.span.To, g, false})
		}
	}
	slices.SortStableFunc(lots, func(a, b lot) int { return a.ready.Compare(b.ready) })
	slices.SortStableFunc(uses, func(a, b use) int { return a.at.Compare(b.at) })
	var out []learnt.Ended
	for _, u := range uses {
		for i := range lots {
			l := &lots[i]
			took := min(u.g, l.left)
			if l.ready.After(u.at) || took <= 0 {
				continue
			}
			l.left -= took
			u.g -= took
			hours := u.at.Sub(l.ready).Hours()
			switch {
			case u.poured && took >= leastPoured*l.g:
				out = append(out, learnt.Ended{Hours: hours, Discarded: true})
			case !u.poured && l.left <= 0:
				out = append(out, learnt.Ended{Hours: hours})
			}
		}
	}
	return out
}

// leastPoured is the share of a batch from which on throwing it away says that it did not keep, rather than that a jug was spilt.
const leastPoured = 0.1
