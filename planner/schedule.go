package planner

import (
	"context"
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/batch"
)

// planned is a batch of the plan.
type planned struct {
	option int
	slot   int
	g      float64 // finished beverage
	doseG  float64
	t      times
	lot    int // in result.Lots
}

// schedule finds the batches: the instance with all the ice that could be made, then with the loads that people are really
// asked for, until batches and ice agree. What still finds no ice is left out; without ice a batch is not made.
func (j *job) schedule(ctx context.Context) error {
	s := j.drink
	copy(s.serve, j.needs.serve(j.req))
	if len(s.units) > 0 {
		s.surge, s.countAgeH = j.needs.surge(j.req, j.h), j.countAgeH()
	}
	loads := s.earliest()
	adjusts := j.adjustable()
	j.in = j.instance()
	j.setIce(loads)
	earlier := j.earlierStarts()
	warm := earlier
	budget := j.opt.Budget
	if budget <= 0 {
		if budget = batch.DefaultBudget; len(earlier) > 0 {
			budget = replanBudget
		}
	}
	if len(s.units) > 0 || adjusts { // a first look tells which loads are worth asking for, and what the level is worth
		if err := j.solve(ctx, loads, budget/8, warm); err != nil {
			return err
		}
		warm, loads = j.warmest(earlier), s.loads
	}
	if adjusts {
		if err := j.adjust(ctx); err != nil {
			return err
		}
		j.in = j.instance()
		warm = earlier // batches of another level are no beginning
	}
	for range 2 {
		if err := j.solve(ctx, loads, budget, warm); err != nil {
			return err
		}
		if models.Sum(s.run.lack) < 0.5 && models.Sum(s.run.short) <= j.result.IceShortG+50 {
			break
		}
		warm, loads = j.warmest(earlier), s.loads
	}
	if err := j.keepEarlier(); err != nil {
		return err
	}
	return j.mend()
}

// replanBudget is the work of a plan made anew: half, for it begins from the plan before and mostly stays with it.
const replanBudget = batch.DefaultBudget / 2

// warmest is what the next solution begins from: the batches of the plan before, where a plan is made anew, for it is them that it
// stays with; else those just found.
func (j *job) warmest(earlier []batch.Start) []batch.Start {
	if len(earlier) > 0 {
		return earlier
	}
	return j.result.Starts
}

// solve plans the batches with the ice of makers and the given loads, and picks the loads that they really need.
func (j *job) solve(ctx context.Context, loads []load, budget int, warm []batch.Start) error {
	j.setIce(loads)
	starts, bound, err := j.solveInstance(ctx, budget, warm)
	if err != nil {
		return fmt.Errorf("planning batches: %w", err)
	}
	j.bound = bound
	starts, err = j.weigh(starts)
	if err != nil {
		return err
	}
	j.take(starts)
	j.drink.choose()
	return nil
}

// setIce states the ice of the instance with the given mould loads.
func (j *job) setIce(loads []load) {
	s := j.drink
	stirs := false
	for _, rc := range j.recipes {
		stirs = stirs || rc.unit.IceG > 0
	}
	if !stirs && models.Sum(s.serve) == 0 {
		j.in.Ice = nil
		return
	}
	inflow := s.makeable()
	for _, l := range loads {
		if l.take < s.slots {
			inflow[l.take] += l.g
		}
	}
	serve := append([]float64(nil), s.serve...)
	for t, g := range j.keptIce() {
		serve[t] += g
	}
	j.in.Ice = &batch.Ice{OpeningG: s.opening, CapacityG: s.capacity, MakeG: inflow, ServeG: serve, LossPerSlot: 1 - s.keep, ShortPerKg: bounded(j.needs.iceKg)}
}

// keptIce is the ice that batches under way still take, by slot.
func (j *job) keptIce() []float64 {
	out := make([]float64, j.h.n)
	for _, b := range j.kept {
		at := b.task.Start.Add(models.Minutes(b.t.ice))
		if t := j.h.slotOf(at); b.task.State == models.Started && t >= 0 && t < j.h.n {
			out[t] += b.doseG * j.recipes[b.bev].unit.IceG
		}
	}
	return out
}

// weigh rounds each dose down to what a kitchen scale shows (0.1 g) where the batch stays large enough, and works the plan out
// again. Less never breaks store or ice.
func (j *job) weigh(starts []batch.Start) ([]batch.Start, error) {
	starts = j.possible(starts)
	out := append([]batch.Start(nil), starts...)
	for i := range out {
		o := &j.options[j.optionOf(out[i])]
		rc := j.recipes[o.bev]
		g := math.Floor(rc.doseFor(out[i].G)*10+1e-6) / 10 * rc.brew.FinishedPerDose()
		if g >= o.lo && g > 0 && g <= o.hi {
			out[i].G = g
		}
	}
	r, err := batch.Evaluate(j.in, out)
	if err != nil {
		if r, err = batch.Evaluate(j.in, starts); err != nil {
			return nil, fmt.Errorf("working out the batches: %w", err)
		}
	}
	j.result = r
	return r.Starts, nil
}

// possible leaves out, last first, what the instance as a whole does not carry: a rolling plan is settled piece by piece.
func (j *job) possible(starts []batch.Start) []batch.Start {
	for len(starts) > 0 && j.in.Slots > wholeUpTo {
		if _, err := batch.Evaluate(j.in, starts); err == nil {
			break
		}
		starts = starts[:len(starts)-1]
	}
	return starts
}

func (j *job) optionOf(s batch.Start) int {
	for k := range j.options {
		if o := &j.options[k]; j.req.Brewers[o.brewer].Code == s.Brewer && j.req.Beverages[o.bev].Code == s.Beverage {
			return k
		}
	}
	return -1
}

// take makes the planned batches of the starts, and the ice that they ask for.
func (j *job) take(starts []batch.Start) {
	j.batches = j.batches[:0]
	copy(j.drink.stir, j.keptIce())
	lotOf := make([]int, len(starts))
	for k, l := range j.result.Lots {
		if l.Start >= 0 {
			lotOf[l.Start] = k
		}
	}
	for i, st := range starts {
		k := j.optionOf(st)
		o := &j.options[k]
		rc := j.recipes[o.bev]
		p := planned{option: k, slot: st.StartSlot, g: st.G, doseG: rc.doseFor(st.G), lot: lotOf[i]}
		p.t = rc.timesOf(p.doseG, j.req.Brewers[o.brewer].BusyMin)
		j.batches = append(j.batches, p)
		if t := j.iceSlot(&p); t < j.h.n {
			j.drink.stir[t] += p.doseG * rc.unit.IceG
		}
	}
}

// iceSlot is the slot in which a batch takes its ice.
func (j *job) iceSlot(p *planned) int {
	return p.slot + int(math.Floor(p.t.ice/j.h.slot.Minutes()+1e-9))
}

// mend leaves out, one by one, batches that find no ice or no room when every minute and every whole load is counted.
func (j *job) mend() error {
	for {
		drop := j.withoutIce()
		if drop < 0 {
			drop = j.withoutRoom()
		}
		if drop < 0 {
			return nil
		}
		var starts []batch.Start
		for i, s := range j.result.Starts {
			if i != drop {
				starts = append(starts, s)
			}
		}
		r, err := batch.Evaluate(j.in, starts)
		if err != nil {
			return fmt.Errorf("working out the batches: %w", err)
		}
		j.result = r
		j.take(r.Starts)
		j.drink.choose()
	}
}

// withoutIce is the last batch at or before the first slot in which stirred-in ice lacks; −1 where none does.
func (j *job) withoutIce() int {
	for t, lack := range j.drink.run.lack {
		if lack < 0.5 {
			continue
		}
		found := -1
		for i := range j.batches {
			p := &j.batches[i]
			if p.doseG*j.recipes[j.options[p.option].bev].unit.IceG > 0 && j.iceSlot(p) <= t && (found < 0 || j.iceSlot(p) >= j.iceSlot(&j.batches[found])) {
				found = i
			}
		}
		if found >= 0 {
			return found
		}
	}
	return -1
}

// withoutRoom is a batch that comes into the cold store when it is full: the schedule counts a batch from a slot boundary, it
// really comes when it is ready, which a small batch may be earlier.
func (j *job) withoutRoom() int {
	level := append([]float64(nil), j.result.Store...)
	for i := range j.batches {
		p := &j.batches[i]
		l := &j.result.Lots[p.lot]
		from := p.slot + int(math.Floor(p.t.ready/j.h.slot.Minutes()+1e-9))
		for t := from; t < l.ReadySlot && t < len(level); t++ {
			level[t] += p.g
		}
		if from < l.ReadySlot {
			for t := from; t < l.ReadySlot && t < len(level); t++ {
				if level[t] > j.storeLimit()+1 {
					return i
				}
			}
		}
	}
	return -1
}

// storeLimit is what the cold store holds; what is there already may be more when batches under way come in.
func (j *job) storeLimit() float64 {
	most := 0.0
	for t := range j.h.n {
		g := 0.0
		for k := range j.opening {
			if o := &j.opening[k]; o.ready <= t && t < o.to {
				g += o.g
			}
		}
		most = max(most, g)
	}
	return max(j.req.Site.StoreG, most)
}
