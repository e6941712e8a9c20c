package planner

import (
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/batch"
)

// fixedWithin is how far ahead a replan leaves the previous plan's batches alone: people have begun to prepare for them.
const fixedWithin = 2 * time.Hour

// fixed returns the batches of the previous plan that a replan leaves alone: those that start within two hours and still fit the
// instance. An outage, ice that has run out or a stricter rule for food leaves them no slot or no size, and they are planned again.
func (bp *brewPlan) fixed() []batch.Start {
	var out []batch.Start
	for _, s := range bp.soon() {
		next := append(out[:len(out):len(out)], s)
		if _, err := batch.Evaluate(bp.in, next); err == nil {
			out = next
		}
	}
	return out
}

// soon returns the starts of the previous plan within two hours that nobody has begun yet.
func (bp *brewPlan) soon() []batch.Start {
	var out []batch.Start
	until := bp.req.Now.Add(fixedWithin)
	begun := bp.begun()
	for i := range bp.opt.Before {
		b := &bp.opt.Before[i]
		if b.State != models.Due && b.State != "" || b.Start.After(until) || begun[i] {
			continue
		}
		if s, ok := bp.startOf(b); ok {
			out = append(out, s)
		}
	}
	return out
}

// begun returns the indices of the previous plan's batches that are under way: for each batch under way the nearest one of its brewer
// and beverage, which is none that was still due when the plan was made after the batch had begun.
func (bp *brewPlan) begun() map[int]bool {
	out := map[int]bool{}
	for k := range bp.kept {
		u := bp.kept[k].task
		nearest, gap := -1, sameBatchWithin+1
		for i := range bp.opt.Before {
			b := &bp.opt.Before[i]
			if u.Brewer == nil || *u.Brewer != b.Brewer || *u.Beverage != b.Beverage || out[i] {
				continue
			}
			if known := !u.Start.After(bp.opt.BeforeAt); known && (b.State == models.Due || b.State == "") {
				continue
			}
			if d := u.Start.Sub(b.Start).Abs(); d < gap {
				nearest, gap = i, d
			}
		}
		if nearest >= 0 {
			out[nearest] = true
		}
	}
	return out
}

// startOf returns the start of a batch of the previous plan; ok is false if it is not on a slot ahead.
func (bp *brewPlan) startOf(b *models.BatchTask) (s batch.Start, ok bool) {
	slot := bp.h.slotOf(b.Start)
	if slot < 0 || slot >= bp.h.n || !bp.h.at(slot).Equal(b.Start) {
		return s, false
	}
	s = batch.Start{Brewer: b.Brewer, Beverage: b.Beverage, StartSlot: slot, G: b.BeverageG}
	if k := bp.optionOf(s); k >= 0 { // a plan of other sizes, or of an earlier version, has other amounts
		s.G = bp.options[k].nearest(b.BeverageG).g
	}
	return s, true
}

// around returns the instance that is left beside fixed starts, and their own cost: their lots are opening lots, and their brewers,
// people, ice and baths are taken.
func around(in *batch.Instance, fixed []batch.Start) (*batch.Instance, float64) {
	if len(fixed) == 0 {
		return in, 0
	}
	out := *in
	out.SlotStarts, out.WorkMin, out.Baths = slices.Clone(in.SlotStarts), slices.Clone(in.WorkMin), slices.Clone(in.Baths)
	out.Beverages, out.Brewers = slices.Clone(in.Beverages), slices.Clone(in.Brewers)
	out.Limits = slices.Clone(in.Limits)
	for l := range out.Limits {
		out.Limits[l].MostG = slices.Clone(out.Limits[l].MostG)
	}
	if in.Ice != nil {
		ice := *in.Ice
		ice.TakeG = make([]float64, in.Slots)
		out.Ice = &ice
	}
	cost := 0.0
	for _, s := range fixed {
		b := slices.IndexFunc(in.Brewers, func(w batch.Brewer) bool { return w.Name == s.Brewer })
		k := slices.IndexFunc(in.Brewers[b].Options, func(o batch.Option) bool { return o.Beverage == s.Beverage })
		i := slices.IndexFunc(in.Beverages, func(x batch.Beverage) bool { return x.Name == s.Beverage })
		o, bev := &in.Brewers[b].Options[k], &out.Beverages[i]
		cost += o.BatchCost + s.G/1000*bev.UnitCostPerKg
		ready := bev.ReadySlots
		if o.ReadySlots != nil {
			ready = *o.ReadySlots
		}
		ready += s.StartSlot
		bev.Opening = append(slices.Clone(bev.Opening), batch.Opening{G: s.G, ReadySlot: ready, ExpiresSlot: ready + bev.HoldSlots})
		out.SlotStarts[s.StartSlot]--
		if at := s.StartSlot + o.IceSlots; out.Ice != nil && at < in.Slots {
			out.Ice.TakeG[at] += o.IceOf(s.G)
		}
		for l := range out.Limits {
			out.Limits[l].Less(i, s)
		}
		use(o, s.StartSlot, out.WorkMin, out.Baths)
		out.Brewers[b].Options = withoutBusy(out.Brewers[b].Options, s.StartSlot, s.StartSlot+o.BusySlots)
	}
	return &out, cost
}

// withoutBusy returns a brewer's options without the starts that would overlap slots [from, to).
func withoutBusy(options []batch.Option, from, to int) []batch.Option {
	out := slices.Clone(options)
	for k := range out {
		may := slices.Clone(out[k].MayStart)
		for t := max(0, from-out[k].BusySlots+1); t < min(to, len(may)); t++ {
			may[t] = false
		}
		out[k].MayStart = may
	}
	return out
}
