package planner

import (
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/batch"
)

// starts returns the number of batches that people can start in each slot: the limit when it begins, or a lower one that takes effect
// within it.
func (st *setting) starts() []int {
	out := make([]int, st.h.n)
	for t := range out {
		cell := models.Span{From: st.h.at(t), To: st.h.at(t + 1)}
		atStart, lowest := -1, -1
		for _, a := range st.req.Attention {
			span := models.Span{From: a.From, To: a.To}
			if span.Contains(cell.From) && (atStart < 0 || a.Starts < atStart) {
				atStart = a.Starts
			}
			if !cell.Overlap(span).Empty() && (lowest < 0 || a.Starts < lowest) {
				lowest = a.Starts
			}
		}
		out[t] = st.req.Site.StartsPerSlot
		if atStart >= 0 {
			out[t] = atStart
		}
		if lowest >= 0 {
			out[t] = min(out[t], lowest)
		}
	}
	return out
}

// opening is a lot on hand or under way before the first slot.
type opening struct {
	bev       int
	g         float64
	from      time.Time // from when it may be served
	until     time.Time
	ready, to int // slots [ready, to) in which it may be served
	row       int // of stock; -1: a batch under way
	kept      int // the batch under way, in stock.kept
}

// instance states the batch scheduling problem of the request.
func (bp *brewPlan) instance() *batch.Instance {
	r := bp.req
	in := &batch.Instance{SlotMin: r.Site.SlotMin, Slots: bp.h.n, StartsPerSlot: r.Site.StartsPerSlot, StoreG: r.Site.StoreG, SlotStarts: bp.starts(), WorkMin: bp.workLeft(), Baths: bp.bathsFree()}
	for i := range r.Beverages {
		c := bp.needs.costs[i]
		b := batch.Beverage{Name: r.Beverages[i].Code, HoldSlots: bp.holdSlots(i),
			UnitCostPerKg: bounded(c.unit * 1000), DisposalPerKg: bounded(c.disposal * 1000), ShortPerKg: bounded(c.short * 1000), AgingPerKgH: bounded(c.aging * 1000)}
		for _, merged := range bp.openingOf(i) {
			b.Opening = append(b.Opening, openingLot(bp.h, merged))
		}
		b.CarryAfter = bp.h.sellsAgain()
		b.DemandG = bp.demandFrom(i, b.Opening)
		in.Beverages = append(in.Beverages, b)
	}
	for b := range r.Brewers {
		w := batch.Brewer{Name: r.Brewers[b].Code}
		for k := range bp.options {
			o := &bp.options[k]
			if o.brewer != b || bp.holdSlots(o.bev) < 1 {
				continue
			}
			ready := o.readySlots
			x := batch.Option{Beverage: r.Beverages[o.bev].Code, MinG: o.lo, MaxG: o.hi, BusySlots: o.busySlots,
				BatchCost: r.Brewers[b].BatchCost, IcePerG: math.Inf(1), IceSlots: o.iceSlots, ReadySlots: &ready, EarlySlots: bp.earlySlots(o), MayStart: o.may,
				Work: o.work, BathFrom: o.bathFrom, BathTo: o.bathTo}
			bath := bp.bathIcePerG(o)
			for k := range o.sizes {
				a := &o.sizes[k]
				ice := a.iceG + bath*a.g
				x.SizesG, x.SizesIceG = append(x.SizesG, a.g), append(x.SizesIceG, ice)
				x.IcePerG = min(x.IcePerG, ice/a.g)
			}
			w.Options = append(w.Options, x)
		}
		in.Brewers = append(in.Brewers, w)
	}
	for i := range in.Beverages {
		in.Beverages[i].HoldSlots = max(1, in.Beverages[i].HoldSlots)
	}
	return in
}

// demandFrom is the demand path of a beverage. Before the plan it is no more than the stock: a sale that no batch can save is no cost of
// the plan.
func (bp *brewPlan) demandFrom(bev int, stock []batch.Opening) []float64 {
	path := bp.needs.path[bev]
	if bp.h.sold == 0 {
		return path
	}
	out, lots := slices.Clone(path), slices.Clone(stock)
	slices.SortStableFunc(lots, func(a, b batch.Opening) int { return a.ExpiresSlot - b.ExpiresSlot })
	for t := range bp.h.sold {
		rest := out[t]
		for k := range lots {
			if l := &lots[k]; l.ReadySlot <= t && t < l.ExpiresSlot {
				g := min(rest, l.G)
				rest -= g
				l.G -= g
			}
		}
		out[t] -= rest
	}
	return out
}

// maxAmount bounds grams and costs in the batch problem, far beyond any real shop.
const maxAmount = 1e9

func bounded(x float64) float64 { return min(x, maxAmount) }

// maxOpening is the number of opening lots per beverage in the batch problem; beyond it, lots are merged two by two.
const maxOpening = 150

// openingOf returns the lots of a beverage on hand or under way, those merged for the search together.
func (kt *kitchen) openingOf(bev int) [][]*opening {
	var out [][]*opening
	for k := range kt.opening {
		if o := &kt.opening[k]; o.bev == bev && o.g > 0 && o.to > o.ready && o.ready < kt.h.n {
			out = append(out, []*opening{o})
		}
	}
	for len(out) > maxOpening {
		slices.SortStableFunc(out, func(a, b []*opening) int { return openingLot(kt.h, a).ExpiresSlot - openingLot(kt.h, b).ExpiresSlot })
		half := out[:0]
		for k := 0; k < len(out); k += 2 {
			both := out[k]
			if k+1 < len(out) {
				both = slices.Concat(both, out[k+1])
			}
			if o := openingLot(kt.h, both); o.ReadySlot < o.ExpiresSlot {
				half = append(half, both)
			}
		}
		out = half
	}
	return out
}

// openingLot is one lot for the search, of lots merged: with the last of their starts, the first of their expiries, and the first of
// the times from which they are in the store.
func openingLot(h *horizon, merged []*opening) batch.Opening {
	out := batch.Opening{ExpiresSlot: merged[0].to}
	stored := h.n
	for _, o := range merged {
		out.G += o.g
		out.ReadySlot = max(out.ReadySlot, o.ready)
		out.ExpiresSlot = min(out.ExpiresSlot, o.to)
		stored = min(stored, max(0, h.slotOf(o.from)))
	}
	out.EarlySlots = max(0, out.ReadySlot-stored)
	return out
}

// icePerG is the ice stirred in per gram of finished beverage.
func (r *recipe) icePerG() float64 { return r.unit.IceG / r.brew.FinishedPerDose() }

// earlySlots is how many slots before it is served a batch is in the cold store: from the slot in which the smallest batch, which is
// ready first, is put in.
func (kt *kitchen) earlySlots(o *option) int {
	t := kt.recipes[o.bev].timesOf(o.sizes[0].ext.BeverageG, kt.req.Brewers[o.brewer].BusyMin)
	return o.readySlots - int(math.Floor(t.ready/kt.h.slot.Minutes()+1e-9))
}

// sellsAgain is the slot of the first sale after the horizon; coffee that expires before it is poured away.
func (h *horizon) sellsAgain() int {
	last := h.days[len(h.days)-1]
	for ahead := 1; ahead <= 14; ahead++ {
		for _, s := range h.site.OpenSpans(last.AddDays(ahead)) {
			for _, open := range models.Without(s, h.closed) {
				if !open.Empty() {
					return max(h.n, h.slotOf(open.From))
				}
			}
		}
	}
	return h.n + int(14*24*time.Hour/h.slot)
}

// holdSlots returns the whole slots in which a batch may be served. The smallest batch is ready first, and no slot may end after the
// use-by time.
func (kt *kitchen) holdSlots(bev int) int {
	slack := 0.0
	for k := range kt.options {
		o := &kt.options[k]
		if o.bev == bev {
			t := kt.recipes[bev].timesOf(o.sizes[0].ext.BeverageG, kt.req.Brewers[o.brewer].BusyMin)
			slack = max(slack, float64(o.readySlots)*kt.h.slot.Minutes()-t.ready)
		}
	}
	return int(math.Floor((kt.req.Site.HoldH(&kt.req.Beverages[bev])*60-slack)/kt.h.slot.Minutes() + 1e-9))
}
