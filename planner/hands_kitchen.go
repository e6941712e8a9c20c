package planner

import (
	"time"

	"hotday/models"
	"hotday/planner/batch"
)

// workTimes returns how long each kind of work takes, or no time at all where the request lists nobody: then hands are not limited.
func (st *setting) workTimes() models.WorkMin {
	if len(st.req.Site.People) == 0 {
		return models.WorkMin{}
	}
	return st.req.Site.Work()
}

// workByStart returns the work of a batch by window for each slot in which it may start; nil where hands are not limited.
func (st *setting) workByStart(steps []step, may []bool) [][]batch.WorkUse {
	if len(st.req.Site.People) == 0 {
		return nil
	}
	out := make([][]batch.WorkUse, len(may))
	windows := st.windowCount()
	for t := range may {
		if !may[t] {
			continue
		}
		for _, u := range st.workFrom(t, steps) {
			if u.Window < windows { // what is left after the last slot
				out[t] = append(out[t], u)
			}
		}
	}
	return out
}

// leastMin is the work that any one batch needs in a half hour, min, when it starts at its best time within the half hour, and the most
// that it needs in another.
func (kt *kitchen) leastMin() (least, rest float64) {
	phases := int(kt.windowMin() / kt.h.slot)
	for k := range kt.options {
		o := &kt.options[k]
		steps := kt.recipes[o.bev].steps(&kt.req.Brewers[o.brewer], o.lo, o.hi, kt.workTimes())
		best, beside := -1.0, 0.0
		for t := range phases {
			peak, second := 0.0, 0.0
			for _, u := range kt.workFrom(t, steps) {
				peak, second = max(peak, u.Min), max(second, min(peak, u.Min))
			}
			if best < 0 || peak < best {
				best, beside = peak, second
			}
		}
		least, rest = max(least, best), max(rest, beside)
	}
	if kt.windowMin() > halfHour { // by hour: half of it in each half hour
		least /= 2
		rest = least
	}
	return least, rest
}

// handsFor works out the time for prep, less an estimate of the work that is not batches.
func (kt *kitchen) handsFor(n *needs) hands {
	if len(kt.req.Site.People) == 0 {
		return hands{}
	}
	from := kt.windowsFrom()
	drinks := make([]float64, kt.windowCount()*int(kt.windowMin()/halfHour))
	for i := range n.rows {
		row := &n.rows[i]
		for k, share := range row.share {
			at := kt.h.at(row.slot + k).Sub(from).Minutes()
			eachPart(at, kt.h.slot.Minutes(), share*row.rng.Mean(), halfHour.Minutes(), func(k int, d float64) {
				if k >= 0 && k < len(drinks) {
					drinks[k] += d
				}
			})
		}
	}
	least, rest := kt.leastMin()
	kt.least = least
	h := newHands(&kt.req.Site, kt.h.people, kt.h.start, from, drinks, least, rest)
	for d, span := range kt.h.daySlots() {
		a, b := int(kt.h.at(span[0]).Sub(from)/halfHour), min(len(h.free), int((kt.h.at(span[1]).Sub(from)+halfHour-1)/halfHour))
		if d > 0 {
			a = int((kt.h.at(span[0]).Sub(from) + halfHour - 1) / halfHour)
		}
		h.keep(a, b, kt.otherWorkOn(n, d, span))
	}
	return h
}

// otherWorkOn estimates the work of a service day that is not batches, min.
func (kt *kitchen) otherWorkOn(n *needs, day int, span [2]int) float64 {
	asked := func(item int) float64 { return models.Sum(n.meanG[item][span[0]:span[1]]) }
	bevs := len(kt.req.Beverages)
	water := asked(bevs + 1)
	coffees := map[string]bool{}
	for i := range kt.req.Beverages {
		if g := asked(i); g > 0 {
			water += kt.recipes[i].doseFor(g) * kt.recipes[i].unit.BrewWaterG
			coffees[kt.req.Beverages[i].Coffee] = true
		}
	}
	parts := map[int]bool{}
	for i := range n.rows {
		if w := n.rows[i].window; kt.h.windows[w].date == kt.h.days[day] && n.rows[i].rng.Mean() > 0 {
			parts[w] = true
		}
	}
	return otherWork(kt.req, len(coffees), len(parts), water/1000, asked(bevs))
}

// stepsLeft calls each with the steps of the batches under way that are still to come or not finished at the first slot.
func (kt *kitchen) stepsLeft(each func(at time.Time, s *step)) {
	for i := range kt.kept {
		b := &kt.kept[i]
		if b.stocked || b.g <= 0 {
			continue
		}
		steps := kt.recipes[b.bev].steps(kt.brewerOf(b), b.g, b.g, kt.workTimes())
		if b.task.State == models.Made {
			steps = steps[1:]
		}
		for k := range steps {
			s := &steps[k]
			at := b.task.Start.Add(models.Minutes(s.from))
			if end := at.Add(models.Minutes(s.takes)); s.work > 0 && end.After(kt.h.start) {
				if past := kt.h.start.Sub(at).Minutes(); past > 0 {
					s.work *= 1 - past/s.takes
					s.takes -= past
					at = kt.h.start
				}
				each(at, s)
			}
		}
	}
}

func (kt *kitchen) brewerOf(b *keptBatch) *models.Brewer {
	if b.brewer < 0 {
		return &models.Brewer{BusyMin: b.busyMin}
	}
	return &kt.req.Brewers[b.brewer]
}

// keptWork returns the work that batches under way still need, min by half hour.
func (kt *kitchen) keptWork() []float64 {
	use := make([]float64, len(kt.hands.free))
	kt.stepsLeft(func(at time.Time, s *step) { kt.hands.spread(use, at, s.takes, s.work) })
	return use
}

// workLeft returns the time for batches by window of the instance, min, after the batches under way; nil where hands are not limited.
func (kt *kitchen) workLeft() []float64 {
	if len(kt.req.Site.People) == 0 {
		return nil
	}
	kept := kt.keptWork()
	out := make([]float64, kt.windowCount())
	per := len(kept) / max(1, len(out))
	for k := range kept {
		out[k/per] += kt.hands.forBatches(k) - kept[k]
	}
	for w := range out {
		out[w] = max(0, out[w])
	}
	return out
}

// bathsFree returns the ice baths that batches under way leave free, by slot; nil where they are not limited.
func (kt *kitchen) bathsFree() []int {
	if kt.req.Site.Baths == nil {
		return nil
	}
	out := make([]int, kt.h.n)
	for t := range out {
		out[t] = *kt.req.Site.Baths
	}
	for i := range kt.kept {
		b := &kt.kept[i]
		from, to, ok := kt.recipes[b.bev].inBathMin(kt.brewerOf(b), b.g, b.g)
		if !ok || b.stocked || b.g <= 0 {
			continue
		}
		first, last := kt.h.slotOf(b.task.Start.Add(models.Minutes(from))), kt.h.slotFrom(b.task.Start.Add(models.Minutes(to)))
		for t := max(0, first); t < min(last, kt.h.n); t++ {
			out[t] = max(0, out[t]-1)
		}
	}
	return out
}

// shortOf reports what the batches planned, except number skip, lack for one more, of an option in a slot: time or a free bath.
func (bp *brewPlan) shortOf(o *option, t, skip int) (work, bath bool) {
	used := make([]float64, len(bp.in.WorkMin))
	in := make([]int, len(bp.in.Baths))
	add := func(o *option, slot int) {
		for _, u := range o.workAt(slot) {
			used[u.Window] += u.Min
		}
		for k := slot + o.bathFrom; k < min(slot+o.bathTo, len(in)); k++ {
			in[k]++
		}
	}
	for i := range bp.batches {
		if i != skip {
			add(&bp.options[bp.batches[i].option], bp.batches[i].slot)
		}
	}
	add(o, t)
	for w := range used {
		work = work || used[w] > bp.in.WorkMin[w]+1e-6
	}
	for k := range in {
		bath = bath || in[k] > bp.in.Baths[k]
	}
	return work, bath
}

// halfHours lists the half hours with people on shift: their time, and what batches under way and planned ones use of it.
func (bp *brewPlan) halfHours() []models.HalfHour {
	if len(bp.req.Site.People) == 0 {
		return nil
	}
	used := bp.keptWork()
	for i := range bp.batches {
		p := &bp.batches[i]
		o := &bp.options[p.option]
		for _, s := range bp.recipes[o.bev].steps(&bp.req.Brewers[o.brewer], p.g, p.g, bp.workTimes()) {
			bp.hands.spread(used, bp.h.at(p.slot).Add(models.Minutes(s.from)), s.takes, s.work)
		}
	}
	out := []models.HalfHour{}
	for k, m := range bp.hands.onShift {
		if m > 0 {
			out = append(out, models.HalfHour{At: bp.hands.from.Add(time.Duration(k) * halfHour).In(bp.loc), OnShift: m / halfHour.Minutes(),
				ServingMin: bp.hands.serving[k], FreeMin: bp.hands.free[k], UsedMin: used[k]})
		}
	}
	return out
}
