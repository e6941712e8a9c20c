package batch

import (
	"cmp"
	"slices"
)

// problem is an instance compiled for the solver: costs per gram, all options in one list, allowed start slots.
type problem struct {
	in     *Instance
	slots  int
	people []int     // starts that people can make, by slot
	store  []float64 // capacity at the end of each slot, g; raised where opening lots alone exceed it, so that doing nothing is feasible
	early  []float64 // opening lots in the store before they can be served, by slot, g
	bevs   []beverage
	opts   []option
	ice    *iceBin // nil: no ice constraint
	limits []Limit
	taken  []float64 // scratch, by slot
	brewer int       // number of brewers
	work   []float64 // of people, min by window; nil: not limited
	baths  []int     // free, by slot; nil: not limited
	sized  bool      // some option has sizes
	whole  bool      // starts are of whole sizes and take the ice of their size; else any grams and icePerG
}

type beverage struct {
	demand   []float64
	cum      []float64 // cum[t]: demand before slot t
	hold     int
	unit     float64 // costs per gram
	disposal float64
	short    float64
	aging    float64 // per gram and slot
	credit   float64
	opening  []lot
	carry    int   // a lot that expires after this slot is carried over
	opts     []int // indices into problem.opts
}

type option struct {
	brewer, bev int
	min, max    float64
	busy, ready int
	early       int // slots in the store before it is ready
	fixed       float64
	icePerG     float64
	iceSlots    int
	canStart    []bool      // allowed, by start slot
	work        [][]WorkUse // by start slot; nil: none
	bathFrom    int         // slots [bathFrom, bathTo) from its start in a bath
	bathTo      int
	sizes       []float64 // ascending; nil: any from min to max
	sizesIce    []float64 // by size; nil: icePerG
}

type iceBin struct {
	opening, capacity, keep float64 // keep: share of the ice that does not melt in a slot
	make, serve             []float64
	short                   float64   // per gram
	fixedTake               []float64 // into batches that are already fixed, by slot; nil for none
}

// lot is beverage with the same ready and expiry slots.
type lot struct {
	g              float64
	ready, expires int
	early          int // slots in the store before it is ready
	start          int // index of its start, -1 for an opening lot
	opening        int // index of an opening lot in Beverage.Opening
}

// batchStart is a start with its option by index.
type batchStart struct {
	opt, slot int
	g         float64
}

func compile(in *Instance) *problem {
	p := &problem{in: in, slots: in.Slots, brewer: len(in.Brewers), limits: in.Limits, taken: make([]float64, in.Slots), work: in.WorkMin, baths: in.Baths}
	p.people = make([]int, p.slots)
	for t := range p.people {
		p.people[t] = in.StartsPerSlot
		if in.SlotStarts != nil {
			p.people[t] = in.SlotStarts[t]
		}
	}
	index := make(map[string]int, len(in.Beverages))
	for i := range in.Beverages {
		index[in.Beverages[i].Name] = i
		p.bevs = append(p.bevs, compileBeverage(&in.Beverages[i], in.SlotMin, p.slots))
	}
	for b := range in.Brewers {
		for k := range in.Brewers[b].Options {
			o := compileOption(in, b, k, index)
			p.bevs[o.bev].opts = append(p.bevs[o.bev].opts, len(p.opts))
			p.opts = append(p.opts, o)
			p.sized = p.sized || o.sizes != nil
		}
	}
	p.closeByLimits()
	if in.Ice != nil {
		p.ice = &iceBin{opening: in.Ice.OpeningG, capacity: in.Ice.CapacityG, keep: 1 - in.Ice.LossPerSlot,
			make: in.Ice.MakeG, serve: in.Ice.ServeG, short: in.Ice.ShortPerKg / 1000, fixedTake: in.Ice.TakeG}
	}
	p.store, p.early = make([]float64, p.slots), make([]float64, p.slots)
	for i := range p.bevs {
		for k := range p.bevs[i].opening {
			p.bevs[i].opening[k].addEarly(p.early, 0)
		}
	}
	idle := p.levels(nil)
	for t := range p.store {
		p.store[t] = max(in.StoreG, idle[t])
	}
	return p
}

func compileBeverage(b *Beverage, slotMin, slots int) beverage {
	out := beverage{demand: b.DemandG, hold: b.HoldSlots, unit: b.UnitCostPerKg / 1000, disposal: b.DisposalPerKg / 1000,
		short: b.ShortPerKg / 1000, aging: b.AgingPerKgH / 1000 * float64(slotMin) / 60, credit: b.CarryCreditPerKg / 1000, carry: max(slots, b.CarryAfter)}
	out.cum = make([]float64, slots+1)
	for t, d := range b.DemandG {
		out.cum[t+1] = out.cum[t] + d
	}
	for k, o := range b.Opening {
		if o.G > 0 {
			out.opening = append(out.opening, lot{g: o.G, ready: o.ReadySlot, expires: o.ExpiresSlot, early: min(o.EarlySlots, o.ReadySlot), start: -1, opening: k})
		}
	}
	slices.SortStableFunc(out.opening, func(a, b lot) int { return cmp.Compare(a.expires, b.expires) })
	return out
}

func compileOption(in *Instance, brewer, k int, index map[string]int) option {
	o := &in.Brewers[brewer].Options[k]
	out := option{brewer: brewer, bev: index[o.Beverage], min: o.MinG, max: o.MaxG, busy: o.BusySlots, fixed: o.BatchCost,
		icePerG: o.IcePerG, iceSlots: o.IceSlots, bathFrom: o.BathFrom, bathTo: o.BathTo}
	if len(o.SizesG) > 0 {
		out.sizes, out.sizesIce = o.SizesG, o.SizesIceG
		out.min, out.max = o.SizesG[0], o.SizesG[len(o.SizesG)-1]
	}
	if in.WorkMin != nil {
		out.work = o.Work
	}
	out.ready = in.Beverages[out.bev].ReadySlots
	if o.ReadySlots != nil {
		out.ready = *o.ReadySlots
	}
	out.early = min(o.EarlySlots, out.ready)
	out.canStart = make([]bool, in.Slots)
	windows := in.Brewers[brewer].Available
	if windows == nil {
		windows = [][]int{{0, in.Slots}}
	}
	for _, w := range windows {
		for t := w[0]; t+out.busy <= w[1]; t++ {
			out.canStart[t] = t+out.ready < in.Slots
		}
	}
	for t := range out.canStart {
		people := in.StartsPerSlot
		if in.SlotStarts != nil {
			people = in.SlotStarts[t]
		}
		if people < 1 || (o.MayStart != nil && !o.MayStart[t]) {
			out.canStart[t] = false
		}
	}
	return out
}

// lots are the lots of beverage i with the given starts, in order of expiry, then readiness.
func (p *problem) lots(i int, starts []batchStart, dst []lot) []lot {
	dst = append(dst[:0], p.bevs[i].opening...)
	for k, s := range starts {
		if o := &p.opts[s.opt]; o.bev == i {
			r := s.slot + o.ready
			dst = append(dst, lot{g: s.g, ready: r, expires: r + p.bevs[i].hold, early: o.early, start: k})
		}
	}
	for a := 1; a < len(dst); a++ {
		for b := a; b > 0 && expiresBefore(&dst[b], &dst[b-1]); b-- {
			dst[b], dst[b-1] = dst[b-1], dst[b]
		}
	}
	return dst
}

// addEarly adds the lot's mass to the level of the slots, those before from left alone, in which it is in the store before it is ready.
func (l *lot) addEarly(level []float64, from int) {
	for t := max(from, l.ready-l.early); t < min(l.ready, len(level)); t++ {
		level[t] += l.g
	}
}

func expiresBefore(a, b *lot) bool {
	return a.expires < b.expires || (a.expires == b.expires && a.ready < b.ready)
}

// levels is the level of the cold store at the end of each slot if lots are served in order of expiry.
func (p *problem) levels(starts []batchStart) []float64 {
	level := make([]float64, p.slots)
	var lots []lot
	for i := range p.bevs {
		lots = p.lots(i, starts, lots)
		p.bevs[i].serveEDF(lots, level, nil, nil)
	}
	return level
}
