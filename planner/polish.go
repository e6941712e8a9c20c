package planner

import (
	"context"
	"encoding/binary"
	"math"
	"slices"

	"hotday/planner/batch"
	"hotday/planner/margin"
	"hotday/planner/risk"
)

// A polish improves the schedule by small changes that cost less on simulated days, all on the same days (common random numbers): the
// search serves one path of demand, and prices beverages and ice apart, where a drink needs both. It is a simheuristic (Juan, Faulin,
// Grasman, Rabe & Figueira 2015, Operations Research Perspectives 2, 62–72): proposals by the rules of a local search, judged by simulation.
type polish struct {
	bp      *brewPlan
	ctx     context.Context
	trial   *risk.Trial
	opening [][]risk.Lot // by beverage
	stocks  []risk.Stock // scratch
	days    [][2]int     // slots of each service day

	batches []pick
	fixed   int     // the first of batches that stay as they are
	cost    float64 // of batches
	making  float64 // the part of it that does not depend on the day
	work    int     // left, in units of risk.Trial.Spent

	dearer map[string]int // work of proposals turned down: as the cost only falls, they stay dearer
	key    []byte         // scratch
}

// pick is a batch: an option, its start and the index of its size.
type pick struct{ option, slot, size int }

// leastGain is the share of the cost below which a change is not worth making: it may be chance.
const leastGain = 0.0003

// polishWork is the work of a polish beside a person who waits, in units of risk.Trial.Spent.
const polishWork = 1_100_000

// polishWork is the work of each polish of the plan. A replan starts from a polished plan.
func (bp *brewPlan) polishWork() int {
	switch {
	case bp.opt.Polish > 0:
		return int(bp.opt.Polish * polishWork)
	case len(bp.opt.Before) > 0:
		return polishWork / 4
	}
	return polishWork
}

// polish changes the schedule while that makes it cheaper. In a replan a kitchen need not follow changes that gain little in all.
func (bp *brewPlan) polish(ctx context.Context) error {
	cost, err := bp.mendedCost(ctx)
	if err != nil {
		return err
	}
	first, best := slices.Clone(bp.result.Starts), cost
	was := first
	for work := bp.polishWork(); work > 0; {
		p := bp.newPolish(ctx, work)
		p.improve()
		if work = p.work; ctx.Err() != nil {
			return ctx.Err()
		}
		if err := bp.accept(p.starts(p.batches)); err != nil {
			return err
		}
		now, err := bp.mendedCost(ctx)
		if err != nil {
			return err
		}
		if now >= best { // what batches take of ice baths and tray loads was not as expected
			if err := bp.accept(was); err != nil {
				return err
			}
			break
		}
		done := now > best*(1-leastGain)
		if was, best = slices.Clone(bp.result.Starts), now; done {
			break
		}
	}
	if best > cost*(1-bp.stay()) {
		return bp.accept(first)
	}
	return nil
}

// newPolish prepares a polish of the present schedule.
func (bp *brewPlan) newPolish(ctx context.Context, work int) *polish {
	in := bp.riskInput(nil)
	in.Flows[flowIce].Taken = bp.keptIce()
	for t, g := range bp.keptBathIce() {
		in.Flows[flowIce].Taken[t] += g
	}
	if bp.trial == nil {
		bp.trial = bp.daysToTry().Trial(in, bp.rates())
	} else {
		bp.trial.SetFlows(in)
	}
	p := &polish{bp: bp, ctx: ctx, work: work, days: bp.h.daySlots(), trial: bp.trial, stocks: make([]risk.Stock, len(in.Stocks)), dearer: map[string]int{}}
	for b := range in.Stocks {
		var own []risk.Lot
		for k, at := range bp.lotsOf(b) {
			if bp.result.Lots[at].Start < 0 {
				own = append(own, in.Stocks[b].Lots[k])
			}
		}
		p.opening = append(p.opening, own)
	}
	fixed := bp.fixed()
	for _, first := range []bool{true, false} {
		for i := range bp.batches {
			if slices.Contains(fixed, bp.result.Starts[i]) == first {
				p.batches = append(p.batches, bp.pickOf(&bp.batches[i]))
			}
		}
		if first {
			p.fixed = len(p.batches)
		}
	}
	p.making = p.state(p.batches)
	p.cost = p.making + p.trial.Cost(p.stocks)
	p.trial.Keep()
	return p
}

func (bp *brewPlan) pickOf(b *planned) pick {
	sizes := bp.options[b.option].sizes
	return pick{b.option, b.slot, slices.IndexFunc(sizes, func(a amounts) bool { return a.g >= b.g-1e-9 })}
}

// rates are the costs of a simulated day that depend on how it turns out.
func (bp *brewPlan) rates() risk.Rates {
	var out risk.Rates
	for j := range bp.req.Drinks {
		unpriced := bp.unpriced(j)
		out.Missed = append(out.Missed, bp.needs.prices.MissedOfMade(j, margin.Beverage)+unpriced)
		out.NoIce = append(out.NoIce, bp.needs.prices.MissedOfMade(j, margin.Ice)+unpriced)
	}
	for b := range bp.needs.costs {
		c := &bp.needs.costs[b]
		out.Disposal, out.Aging = append(out.Disposal, c.disposal), append(out.Aging, c.aging*bp.h.hours())
	}
	return out
}

// state sets p.stocks to the lots of batches and returns the cost of making them.
func (p *polish) state(batches []pick) float64 {
	bp := p.bp
	for b := range p.stocks {
		p.stocks[b].Lots = append(p.stocks[b].Lots[:0], p.opening[b]...)
	}
	cost := 0.0
	for _, x := range batches {
		o := &bp.options[x.option]
		a := &o.sizes[x.size]
		b := &bp.in.Beverages[o.bev]
		l := risk.Lot{G: a.g, From: x.slot + o.readySlots, IceFlow: flowIce, IceG: a.iceG + bp.bathIcePerG(o)*a.g, IceSlot: x.slot + o.iceSlots}
		if l.Until = l.From + b.HoldSlots; l.Until <= max(bp.h.n, b.CarryAfter) {
			l.Until = min(l.Until, bp.h.n)
		}
		p.stocks[o.bev].Lots = append(p.stocks[o.bev].Lots, l)
		cost += bp.req.Brewers[o.brewer].BatchCost + bp.needs.costs[o.bev].unit*a.g
	}
	return cost
}

// priceOf is the expected cost of batches on the simulated days.
func (p *polish) priceOf(batches []pick) float64 {
	making := p.state(batches)
	return making + p.trial.Cost(p.stocks)
}

// dayOf is the service day that a batch is ready for.
func (p *polish) dayOf(x pick) int {
	ready := x.slot + p.bp.options[x.option].readySlots
	for d, span := range p.days {
		if ready < span[1] {
			return d
		}
	}
	return len(p.days) - 1
}

// starts are the batches as the batch instance states them.
func (p *polish) starts(batches []pick) []batch.Start {
	out := make([]batch.Start, 0, len(batches))
	for _, x := range batches {
		o := &p.bp.options[x.option]
		out = append(out, batch.Start{Brewer: p.bp.req.Brewers[o.brewer].Code, Beverage: p.bp.req.Beverages[o.bev].Code, StartSlot: x.slot, G: o.sizes[x.size].g})
	}
	return out
}

// take makes a proposal the schedule if it costs less and is possible, and reports whether it does.
func (p *polish) take(next []pick) bool {
	if p.work <= 0 || !p.possible(next) {
		return false
	}
	key := p.keyOf(next)
	if work, known := p.dearer[key]; known {
		p.work -= work // so that it ends as if the proposal were simulated again: what comes after that hardly ever pays
		return false
	}
	making := p.state(next)
	before := p.trial.Spent()
	cost, cheaper := p.trial.Cheaper(p.stocks, making-p.making+leastGain*p.cost)
	work := p.trial.Spent() - before
	if p.work -= work; !cheaper {
		p.dearer[key] = work
		return false
	}
	p.work -= len(next) * p.bp.h.n
	if _, err := batch.Evaluate(p.bp.in, p.starts(next)); err != nil {
		return false
	}
	p.batches, p.cost, p.making = next, making+cost, making
	p.trial.Keep()
	return true
}

// keyOf is a text for each list of batches.
func (p *polish) keyOf(batches []pick) string {
	p.key = p.key[:0]
	for _, x := range batches {
		for _, n := range [...]int{x.option, x.slot, x.size} {
			p.key = binary.AppendUvarint(p.key, uint64(n))
		}
	}
	return string(p.key)
}

// possible reports whether brewers and people are free for the batches.
func (p *polish) possible(batches []pick) bool {
	for i, x := range batches {
		o := &p.bp.options[x.option]
		if x.slot < 0 || x.slot >= len(o.may) || !o.may[x.slot] || x.slot+o.readySlots >= p.bp.h.n {
			return false
		}
		hands := 1
		for _, y := range batches[:i] {
			q := &p.bp.options[y.option]
			if q.brewer == o.brewer && x.slot < y.slot+q.busySlots && y.slot < x.slot+o.busySlots {
				return false
			}
			if y.slot == x.slot {
				hands++
			}
		}
		if hands > p.bp.in.SlotStarts[x.slot] {
			return false
		}
	}
	return true
}

// improve goes through all changes until none helps.
func (p *polish) improve() {
	for p.work > 0 && p.ctx.Err() == nil {
		was := p.cost
		p.scale()
		p.drop()
		p.shift()
		p.resize()
		p.pass()
		p.swap()
		p.insert()
		if p.cost >= was {
			return
		}
	}
}

// sized returns a batch of the size nearest to f times its own, or the next one in that direction.
func (p *polish) sized(x pick, f float64) pick {
	sizes := p.bp.options[x.option].sizes
	want := sizes[x.size].g * f
	at, gap := x.size, math.Inf(1)
	for k := range sizes {
		if d := math.Abs(sizes[k].g - want); d < gap && (f > 1) == (k > x.size) && k != x.size {
			at, gap = k, d
		}
	}
	x.size = at
	return x
}

// scale makes all batches of a day larger or smaller, then those of each beverage of a day.
func (p *polish) scale() {
	for b := -1; b < len(p.bp.req.Beverages); b++ {
		if b == 0 && len(p.bp.req.Beverages) == 1 {
			return
		}
		for d := range p.bp.h.days {
			for _, f := range []float64{0.75, 0.9, 0.96, 1.04, 1.1, 1.25} {
				for {
					next := slices.Clone(p.batches)
					for i := p.fixed; i < len(next); i++ {
						if o := &p.bp.options[next[i].option]; (b < 0 || o.bev == b) && p.dayOf(next[i]) == d {
							next[i] = p.sized(next[i], f)
						}
					}
					if slices.Equal(next, p.batches) || !p.take(next) {
						break
					}
				}
			}
		}
	}
}

// drop leaves out batches, one by one, and where that alone does not pay makes a neighbour of the same beverage larger instead.
func (p *polish) drop() {
	for i := p.fixed; i < len(p.batches); i++ {
		without := slices.Delete(slices.Clone(p.batches), i, i+1)
		if p.take(without) {
			i--
			continue
		}
		g := p.grams(p.batches[i])
		for _, k := range p.neighbours(i) {
			if k < p.fixed {
				continue
			}
			next := slices.Clone(p.batches)
			next[k] = p.sized(next[k], 1+g/p.grams(next[k]))
			if p.take(slices.Delete(next, i, i+1)) {
				i--
				break
			}
		}
	}
}

func (p *polish) grams(x pick) float64 { return p.bp.options[x.option].sizes[x.size].g }

// neighbours are the batches of the same beverage before and after batch i.
func (p *polish) neighbours(i int) []int {
	before, after := -1, -1
	x := p.batches[i]
	for k, y := range p.batches {
		if k == i || p.bp.options[y.option].bev != p.bp.options[x.option].bev {
			continue
		}
		if y.slot <= x.slot && (before < 0 || y.slot > p.batches[before].slot) {
			before = k
		}
		if y.slot > x.slot && (after < 0 || y.slot < p.batches[after].slot) {
			after = k
		}
	}
	return slices.DeleteFunc([]int{before, after}, func(k int) bool { return k < 0 })
}

// shift moves batches in time.
func (p *polish) shift() {
	for i := p.fixed; i < len(p.batches); i++ {
		for _, by := range []int{-1, 1, -3, 3, -8, 8} {
			for {
				next := slices.Clone(p.batches)
				next[i].slot += by
				if !p.take(next) {
					break
				}
			}
		}
	}
}

// resize makes batches larger or smaller.
func (p *polish) resize() {
	for i := p.fixed; i < len(p.batches); i++ {
		for _, f := range []float64{0.7, 0.9, 1.1, 1.3} {
			for {
				next := slices.Clone(p.batches)
				next[i] = p.sized(next[i], f)
				if next[i] == p.batches[i] || !p.take(next) {
					break
				}
			}
		}
	}
}

// pass moves coffee from one batch to the next of its beverage.
func (p *polish) pass() {
	for i := p.fixed; i < len(p.batches); i++ {
		for _, k := range p.neighbours(i) {
			if k < p.fixed {
				continue
			}
			for _, f := range []float64{0.6, 0.85} {
				next := slices.Clone(p.batches)
				next[i] = p.sized(next[i], f)
				moved := p.grams(p.batches[i]) - p.grams(next[i])
				next[k] = p.sized(next[k], 1+moved/p.grams(next[k]))
				p.take(next)
			}
		}
	}
}

// swap makes a batch of another option of nearly the same size: another beverage or another brewer.
func (p *polish) swap() {
	for i := p.fixed; i < len(p.batches); i++ {
		for k := range p.bp.options {
			if k == p.batches[i].option {
				continue
			}
			next := slices.Clone(p.batches)
			next[i] = p.pickAt(k, next[i].slot, p.grams(next[i]))
			p.take(next)
		}
	}
}

// pickAt is a batch of an option of the size nearest to g g.
func (p *polish) pickAt(option, slot int, g float64) pick {
	o := &p.bp.options[option]
	a := o.nearest(g)
	return pick{option, slot, slices.IndexFunc(o.sizes, func(x amounts) bool { return x.g == a.g })}
}

// insertEvery is the time between the starts that insert tries, h.
const insertEvery = 1.0

// insert adds batches.
func (p *polish) insert() {
	every := max(1, int(insertEvery/p.bp.h.hours()))
	for k := range p.bp.options {
		o := &p.bp.options[k]
		for t := 0; t < p.bp.h.n; t += every {
			if !o.may[t] {
				continue
			}
			for _, share := range []float64{0, 0.4} {
				p.take(append(slices.Clone(p.batches), p.pickAt(k, t, o.lo+share*(o.hi-o.lo))))
			}
		}
	}
}
