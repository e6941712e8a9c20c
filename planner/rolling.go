package planner

import (
	"context"
	"fmt"
	"slices"

	"hotday/models"
	"hotday/planner/batch"
)

// wholeUpTo is the number of slots planned at once; longer horizons roll, two service days at a time.
const wholeUpTo = 480

// wholeFrom is the budget from which the whole of a longer horizon is searched too: a smaller one would not reach a useful bound.
const wholeFrom = 200_000

// nightReserve is the reserve of a search for which nobody waits, one polished longer, in budgets.
const nightReserve = 3

// solveInstance solves the instance and returns starts and a lower bound on its cost. A longer horizon is planned rolling over its days:
// two days at a time, of which the first is fixed. That loses little, since beverages keep for about a day; its plan is then where the
// search of the whole horizon begins, which improves it and has the bound.
func (bp *brewPlan) solveInstance(ctx context.Context, in *batch.Instance, budget int, warm []batch.Start) ([]batch.Start, float64, error) {
	if in.Slots > wholeUpTo {
		w := bp.newRolling(in)
		pieces := w.pieces()
		each := max(budget/3, 2*budget/len(pieces))
		whole := budget >= wholeFrom && !bp.opt.PlanOnly
		if whole {
			each /= 2
		}
		for _, p := range pieces {
			if err := w.advance(ctx, p, each, warm); err != nil {
				return nil, 0, err
			}
		}
		if !whole {
			return w.kept, plainBound(in), nil
		}
		warm = w.kept
	}
	o := batch.Options{Seed: uint64(bp.req.Seed), Budget: budget, Warm: warm, Stay: bp.stay(), PlanOnly: bp.opt.PlanOnly}
	if bp.opt.Polish > 1 && !bp.opt.PlanOnly {
		o.Reserve = nightReserve * budget
	}
	r, err := batch.Solve(ctx, in, o)
	if err != nil {
		return nil, 0, err
	}
	return r.Starts, r.LowerBound, nil
}

// plainBound is a simple lower bound on the cost: each gram of demand beyond the opening stock is missed, or is made at its unit cost and
// its share of a largest batch.
func plainBound(in *batch.Instance) float64 {
	bound := 0.0
	for i := range in.Beverages {
		b := &in.Beverages[i]
		cheapest := b.ShortPerKg
		for _, w := range in.Brewers {
			for _, o := range w.Options {
				if o.Beverage == b.Name {
					cheapest = min(cheapest, b.UnitCostPerKg+o.BatchCost/o.MaxG*1000)
				}
			}
		}
		g := models.Sum(b.DemandG)
		for _, o := range b.Opening {
			g -= o.G
		}
		bound += max(0, g) / 1000 * cheapest
	}
	return bound
}

// piece is a part of the horizon planned at once: slots [from, to), of which those before keep are then fixed.
type piece struct{ from, keep, to int }

// rolling is the state between two pieces.
type rolling struct {
	bp   *brewPlan
	in   *batch.Instance
	kept []batch.Start
	lots [][]batch.Opening // by beverage, slots of the whole horizon
	busy map[string]int    // by brewer: first slot in which it is free
	ice  float64
	owed []float64 // ice for batches already fixed, g by slot

	work  []float64 // left for batches not fixed, min by window; nil: not limited
	baths []int     // free by slot; nil: not limited
}

func (bp *brewPlan) newRolling(in *batch.Instance) *rolling {
	w := &rolling{bp: bp, in: in, busy: map[string]int{}, owed: make([]float64, in.Slots), work: slices.Clone(in.WorkMin), baths: slices.Clone(in.Baths)}
	for i := range in.Beverages {
		w.lots = append(w.lots, slices.Clone(in.Beverages[i].Opening))
	}
	if in.Ice != nil {
		w.ice = in.Ice.OpeningG
	}
	return w
}

// leadInH is how long before the first service day planning begins, h: enough for the longest steep.
const leadInH = 60

// pieces cuts the horizon at the ends of service days. Of a long wait before the first day only the last hours are planned: nothing made
// earlier would keep.
func (w *rolling) pieces() []piece {
	h := w.bp.h
	days := h.daySlots()
	from := 0
	if opens := h.slotFrom(h.days[0].At(0, h.loc)); opens > 0 {
		from = max(0, opens-int(leadInH/h.hours()))
	}
	var out []piece
	if from > 0 {
		out = append(out, piece{0, from, from})
	}
	for d := range days {
		keep := days[d][1]
		to := keep
		if d+1 < len(days) {
			to = days[d+1][1]
		}
		if keep > from {
			out = append(out, piece{from, keep, to})
			from = keep
		}
	}
	return out
}

func (w *rolling) advance(ctx context.Context, p piece, budget int, warm []batch.Start) error {
	sub := w.cut(p)
	var mine []batch.Start
	for _, s := range warm {
		if s.StartSlot >= p.from && s.StartSlot < p.to {
			s.StartSlot -= p.from
			mine = append(mine, s)
		}
	}
	r, err := batch.Solve(ctx, sub, batch.Options{Seed: uint64(w.bp.req.Seed), Budget: budget, Warm: mine, Stay: w.bp.stay(), PlanOnly: w.bp.opt.PlanOnly})
	if err != nil {
		return fmt.Errorf("planning slots %d to %d: %w", p.from, p.to, err)
	}
	var keep []batch.Start
	for _, s := range r.Starts {
		if s.StartSlot < p.keep-p.from {
			keep = append(keep, s)
		}
	}
	if r, err = batch.Evaluate(sub, keep); err != nil {
		return fmt.Errorf("planning slots %d to %d: %w", p.from, p.to, err)
	}
	w.carry(p, r)
	return nil
}

// cut returns the instance of a piece, starting from the stock, ice and busy brewers left by the pieces before.
func (w *rolling) cut(p piece) *batch.Instance {
	n := p.to - p.from
	sub := &batch.Instance{SlotMin: w.in.SlotMin, Slots: n, StartsPerSlot: w.in.StartsPerSlot, StoreG: w.in.StoreG, SlotStarts: w.in.SlotStarts[p.from:p.to], WorkMin: w.work}
	if w.baths != nil {
		sub.Baths = w.baths[p.from:p.to]
	}
	there := 0.0 // a batch under way goes into the store whether or not there is room
	for i := range w.in.Beverages {
		b := w.in.Beverages[i]
		b.DemandG = b.DemandG[p.from:p.to]
		b.Opening = nil
		for _, o := range w.lots[i] {
			o.ReadySlot, o.ExpiresSlot = max(0, o.ReadySlot-p.from), o.ExpiresSlot-p.from
			if o.G > 1e-9 && o.ExpiresSlot > o.ReadySlot && o.ReadySlot < n {
				b.Opening = append(b.Opening, o)
				if o.ReadySlot == 0 {
					there += o.G
				}
			}
		}
		sub.Beverages = append(sub.Beverages, b)
	}
	sub.StoreG = max(sub.StoreG, there)
	for _, br := range w.in.Brewers {
		options := slices.Clone(br.Options)
		for k := range options {
			may := slices.Clone(options[k].MayStart[p.from:p.to])
			for t := range may {
				if p.from+t < w.busy[br.Name] {
					may[t] = false
				}
			}
			options[k].MayStart = may
			if options[k].Work != nil {
				options[k].Work = options[k].Work[p.from:p.to]
			}
		}
		sub.Brewers = append(sub.Brewers, batch.Brewer{Name: br.Name, Available: br.Available, Options: options})
	}
	sub.Limits = w.limits(p)
	if w.in.Ice != nil {
		x := *w.in.Ice
		x.OpeningG = min(w.ice, x.CapacityG)
		x.MakeG = x.MakeG[p.from:p.to]
		serve := slices.Clone(x.ServeG[p.from:p.to])
		for t := range serve {
			serve[t] += w.owed[p.from+t]
		}
		x.ServeG = serve
		if x.TakeG != nil {
			x.TakeG = x.TakeG[p.from:p.to]
		}
		sub.Ice = &x
	}
	return sub
}

// limits are the limits of a piece, less what the starts of the pieces before take.
func (w *rolling) limits(p piece) []batch.Limit {
	var out []batch.Limit
	for _, l := range w.in.Limits {
		most := make([]float64, p.to-p.from)
		for t := range most {
			most[t] = l.MostG[p.from+t]
		}
		for _, s := range w.kept {
			if s.StartSlot < l.From {
				continue
			}
			for i := range w.in.Beverages {
				if w.in.Beverages[i].Name == s.Beverage {
					for t := range most {
						most[t] = max(0, most[t]-l.PerG[i]*s.G-l.PerBatch)
					}
				}
			}
		}
		l.From, l.MostG = max(0, l.From-p.from), most
		if l.From < p.to-p.from {
			out = append(out, l)
		}
	}
	return out
}

// carry records the starts of r, and the lots and ice left at the end of the piece's fixed slots.
func (w *rolling) carry(p piece, r *batch.Result) {
	n := p.keep - p.from
	for _, s := range r.Starts {
		s.StartSlot += p.from
		w.kept = append(w.kept, s)
		for _, br := range w.in.Brewers {
			for _, o := range br.Options {
				if br.Name == s.Brewer && o.Beverage == s.Beverage {
					w.busy[br.Name] = max(w.busy[br.Name], s.StartSlot+o.BusySlots)
					if at := s.StartSlot + o.IceSlots; at >= p.keep && at < len(w.owed) {
						w.owed[at] += s.G * o.IcePerG
					}
					use(&o, s.StartSlot, w.work, w.baths)
				}
			}
		}
	}
	for i := range w.lots { // those of the piece follow; it did not see the ones that are ready after it
		w.lots[i] = slices.DeleteFunc(w.lots[i], func(o batch.Opening) bool { return o.ReadySlot < p.to })
	}
	for _, l := range r.Lots {
		left := l.G
		for t := 0; t < n; t++ {
			left -= l.ServedG[t]
		}
		if l.ExpiresSlot > n && left > 1e-9 {
			w.lots[l.Beverage] = append(w.lots[l.Beverage], batch.Opening{G: left, ReadySlot: l.ReadySlot + p.from, ExpiresSlot: l.ExpiresSlot + p.from})
		}
	}
	if r.Ice != nil {
		w.ice = r.Ice.LevelG[n-1]
	}
}

// use takes what a batch of an option needs from the work and the baths that are left.
func use(o *batch.Option, slot int, work []float64, baths []int) {
	if work != nil && o.Work != nil {
		for _, u := range o.Work[slot] {
			work[u.Window] = max(0, work[u.Window]-u.Min)
		}
	}
	for t := slot + o.BathFrom; t < min(slot+o.BathTo, len(baths)); t++ {
		baths[t] = max(0, baths[t]-1)
	}
}
