package risk

import (
	"cmp"
	"math"
	"slices"
)

// Trial prices plans that differ in their lots alone on the same simulated days: what Simulate would say of their cost, many times faster,
// since the demand and the output of each day are laid out once. It is not safe for concurrent use.
type Trial struct {
	in    Input
	n     int
	rates Rates
	days  *Days
	level []float64 // of each flow in each run when the days begin

	slots   []trialSlot // with sales, in order of time
	things  int         // stocks, then flows
	need    []float64   // what all drinks take, by run, slot of slots and thing
	asked   []float64   // servings, by run, slot of slots and drink
	inflow  [][]float64 // made, by flow, then run and slot
	serving slotServing // scratch

	lots   []trialLot
	stirs  []int     // lots that take ice, in order of time
	usable []span    // in able, by slot of slots and stock
	able   []int32   // lots by the slots and stocks in which they can be sold, in order of expiry
	ages   []float64 // cost of a gram of each of able for its age
	first  []int32   // scratch of sell: an index of able, by stock
	left   []float64
	flow   []float64

	sold        int       // slots of slots simulated so far
	costs, best []float64 // by run: of the stocks tried last, and of those that Keep kept

	kept       []trialLot // those that Keep kept
	from       int        // mark of the kept lots at which runs begin, as nothing before it has changed; −1: none
	same       []int      // by lot, the same one of kept; −1: it is another
	marks, was []float64  // state at each mark, by run and mark: what is left of each lot, the flows, the cost; was: of kept
}

// span is a range of indices, end exclusive.
type span struct{ from, to int32 }

// Rates are the money that a Trial counts, per run.
type Rates struct {
	Missed   []float64 // of a missed serving, by drink
	NoIce    []float64 // of a serving missed for want of ice for drinks, by drink
	Disposal []float64 // of a gram that expires within the horizon, by stock
	Aging    []float64 // of a gram for each slot from ready to sold, by stock
}

// trialSlot is a slot in which drinks are asked for.
type trialSlot struct {
	slot   int
	drinks []slotDrink
	takes  []slotTake // things are numbered as in Trial
}

type trialLot struct {
	Lot
	stock int
	sizes []float64 // factor by run; nil: 1
}

// Trial prepares trials of plans with the rows, drinks, flows and days of in, at the given rates.
func (d *Days) Trial(in Input, rates Rates) *Trial {
	tr := &Trial{n: d.n, rates: rates, days: d, things: len(in.Stocks) + len(in.Flows)}
	s := tr.begin(in)
	var laid []*slotDemand // of each of tr.slots
	for t := range in.Slots {
		s.begin(t)
		tr.produce(s, t)
		x := s.demandIn(t)
		if len(x.drinks) == 0 {
			continue
		}
		at := trialSlot{slot: t, drinks: x.drinks, takes: slices.Clone(x.takes)}
		for k := range at.takes {
			at.takes[k].thing = tr.numberOf(x.things[at.takes[k].thing])
		}
		tr.slots, laid = append(tr.slots, at), append(laid, x)
	}
	tr.need = make([]float64, d.n*len(tr.slots)*tr.things)
	tr.asked = make([]float64, d.n*len(tr.slots)*len(in.Drinks))
	for i, x := range laid {
		for r := range d.n {
			asked, need := tr.of(tr.asked, len(in.Drinks), r, i), tr.of(tr.need, tr.things, r, i)
			for j, n := range x.servings[r*len(x.drinks) : (r+1)*len(x.drinks)] {
				asked[x.drinks[j].drink] = n
			}
			for k, g := range x.amounts[r*len(x.things) : (r+1)*len(x.things)] {
				need[tr.numberOf(x.things[k])] = g
			}
		}
	}
	tr.first = make([]int32, len(in.Stocks))
	p := &tr.serving
	p.slotDemand = &slotDemand{things: make([]thing, tr.things)}
	p.need, p.available, p.take = make([]float64, tr.things), make([]float64, tr.things), make([]float64, tr.things)
	return tr
}

// numberOf is the number of a thing in the trial: stocks come first.
func (tr *Trial) numberOf(th thing) int {
	if th.flow {
		return len(tr.in.Stocks) + th.index
	}
	return th.index
}

// begin sets the flows, and returns a simulation before its first slot.
func (tr *Trial) begin(in Input) *simulation {
	s := newSimulation(in, tr.days.seed, tr.n, tr.days)
	tr.in, tr.best = s.in, nil
	tr.level, tr.inflow, tr.flow = nil, nil, make([]float64, len(in.Flows))
	for f := range in.Flows {
		tr.level = append(tr.level, s.flow[f]...)
		tr.inflow = append(tr.inflow, make([]float64, tr.n*in.Slots))
	}
	return s
}

// SetFlows changes the flows to those of in, which is otherwise the input that the trial was prepared with.
func (tr *Trial) SetFlows(in Input) {
	s := tr.begin(in)
	for t := range in.Slots {
		s.begin(t)
		tr.produce(s, t)
	}
}

// Spent is the work done so far: slots with sales simulated, over all runs.
func (tr *Trial) Spent() int { return tr.sold }

// of returns the part of values that belongs to a run and a slot of tr.slots, where each has width values.
func (tr *Trial) of(values []float64, width, run, slot int) []float64 {
	at := (run*len(tr.slots) + slot) * width
	return values[at : at+width]
}

// produce lays out what the makers add to the flows in a slot.
func (tr *Trial) produce(s *simulation, t int) {
	for f, fl := range s.in.Flows {
		for m, mk := range fl.Makers {
			if t >= len(mk.G) || !(mk.G[t] > 0) {
				continue
			}
			for r := range tr.n {
				g := mk.G[t]
				if out := s.output[f][m]; out != nil {
					g *= out[r]
				}
				tr.inflow[f][r*tr.in.Slots+t] += g
			}
		}
	}
}

// Cost is the mean over the runs of the money lost with these stocks: missed sales, what expires, and aging.
func (tr *Trial) Cost(stocks []Stock) float64 {
	cost, _ := tr.Cheaper(stocks, math.Inf(-1))
	return cost
}

// Keep makes the stocks tried last, in all runs, those with which Cheaper compares.
func (tr *Trial) Keep() {
	tr.best, tr.kept = append(tr.best[:0], tr.costs...), append(tr.kept[:0], tr.lots...)
	tr.marks, tr.was = tr.was, tr.marks
}

// Cheaper is Cost of these stocks, and whether it is below that of the stocks kept by more than allowance. It gives up, with a cost that
// means nothing, after some of the runs if those leave little hope.
func (tr *Trial) Cheaper(stocks []Stock, allowance float64) (cost float64, cheaper bool) {
	tr.stock(stocks)
	tr.compare()
	tr.costs = sized(tr.costs, tr.n)
	sum, more, squares := 0.0, 0.0, 0.0
	compare := len(tr.best) == tr.n
	for r := range tr.n {
		tr.costs[r] = tr.run(r)
		sum += tr.costs[r]
		if !compare {
			continue
		}
		d := tr.costs[r] - tr.best[r] + allowance
		more += d
		squares += d * d
		if n := float64(r + 1); (r+1)%hopeEvery == 0 && more > 0 && more*more*n > hopeless*hopeless*(squares*n-more*more) {
			return math.Inf(1), false
		}
	}
	return sum / float64(tr.n), compare && more < 0
}

// After each hopeEvery runs a trial is given up if its mean difference is more than hopeless of its standard errors on the wrong side.
const (
	hopeEvery = 25
	hopeless  = 2.5
)

func (tr *Trial) stock(stocks []Stock) {
	tr.lots, tr.stirs = tr.lots[:0], tr.stirs[:0]
	order := make([][]int32, len(stocks))
	for k, st := range stocks {
		for _, l := range st.Lots {
			if !(l.G > 0) || l.Until <= l.From {
				continue
			}
			x := trialLot{Lot: l, stock: k}
			if l.SD > 0 {
				x.sizes = tr.days.sizes(l.Key, l.SD)
			}
			if l.IceG > 0 && l.IceFlow >= 0 && l.IceFlow < len(tr.flow) && l.IceSlot >= 0 && l.IceSlot < tr.in.Slots {
				tr.stirs = append(tr.stirs, len(tr.lots))
			}
			order[k] = append(order[k], int32(len(tr.lots)))
			tr.lots = append(tr.lots, x)
		}
		slices.SortStableFunc(order[k], func(a, b int32) int {
			return cmp.Or(cmp.Compare(tr.lots[a].Until, tr.lots[b].Until), cmp.Compare(tr.lots[a].From, tr.lots[b].From))
		})
	}
	slices.SortStableFunc(tr.stirs, func(a, b int) int { return cmp.Compare(tr.lots[a].IceSlot, tr.lots[b].IceSlot) })
	tr.usable, tr.able, tr.ages = tr.usable[:0], tr.able[:0], tr.ages[:0]
	for i := range tr.slots {
		t := tr.slots[i].slot
		for k := range stocks {
			from := len(tr.able)
			for _, i := range order[k] {
				if l := &tr.lots[i]; l.From <= t && t < l.Until {
					tr.able, tr.ages = append(tr.able, i), append(tr.ages, float64(t-l.From)*tr.rates.Aging[k])
				}
			}
			tr.usable = append(tr.usable, span{int32(from), int32(len(tr.able))})
		}
	}
	tr.left = sized(tr.left, len(tr.lots))
}

// sizes returns the factors of a lot's size, by run.
func (d *Days) sizes(key string, sd float64) []float64 {
	name := "size|" + key
	if d.streams[name] == nil {
		out := make([]float64, d.n)
		d.stream("lot|"+key, out)
		for r, z := range out {
			out[r] = logNormal(sd, z)
		}
		d.streams[name] = out
	}
	return d.streams[name]
}

// markEvery is the number of slots with sales from one mark to the next.
const markEvery = 8

// compare finds the last mark up to which the lots are those kept.
func (tr *Trial) compare() {
	marks := len(tr.slots) / markEvery
	tr.marks = sized(tr.marks, tr.n*marks*(len(tr.lots)+len(tr.flow)+1))
	tr.from = -1
	if len(tr.best) != tr.n {
		return
	}
	changed := tr.in.Slots // the first slot that a lot of only one of them touches
	touch := func(l *trialLot) {
		changed = min(changed, l.From)
		if l.IceG > 0 {
			changed = min(changed, l.IceSlot)
		}
	}
	tr.same = tr.same[:0]
	used := make([]bool, len(tr.kept))
	for i := range tr.lots {
		l, k := &tr.lots[i], 0
		for k < len(tr.kept) && (used[k] || tr.kept[k].stock != l.stock || tr.kept[k].Lot != l.Lot) {
			k++
		}
		if k == len(tr.kept) {
			k = -1
			touch(l)
		} else {
			used[k] = true
		}
		tr.same = append(tr.same, k)
	}
	for k := range tr.kept {
		if !used[k] {
			touch(&tr.kept[k])
		}
	}
	for tr.from+1 < marks && tr.slots[(tr.from+2)*markEvery-1].slot < changed {
		tr.from++
	}
}

// mark is the state of a run at a mark, of lots lots.
func (tr *Trial) mark(of []float64, lots, r, k int) []float64 {
	width := lots + len(tr.flow) + 1
	at := (r*(len(tr.slots)/markEvery) + k) * width
	return of[at : at+width]
}

// resume sets the state of a run to that of the kept lots at the mark from, and copies their marks up to it. It returns the cost so far.
func (tr *Trial) resume(r int) float64 {
	for k := range tr.from + 1 {
		was, is := tr.mark(tr.was, len(tr.kept), r, k), tr.mark(tr.marks, len(tr.lots), r, k)
		copy(is[len(tr.lots):], was[len(tr.kept):])
		for i, j := range tr.same {
			if is[i] = tr.left[i]; j >= 0 {
				is[i] = was[j]
			}
		}
	}
	is := tr.mark(tr.marks, len(tr.lots), r, tr.from)
	copy(tr.left, is)
	copy(tr.flow, is[len(tr.lots):])
	return is[len(is)-1]
}

// run is the cost of one run.
func (tr *Trial) run(r int) float64 {
	for i := range tr.lots {
		tr.left[i] = tr.lots[i].G
		if x := tr.lots[i].sizes; x != nil {
			tr.left[i] *= x[r]
		}
	}
	cost, next, stir, first := 0.0, 0, 0, 0
	if tr.from >= 0 {
		cost = tr.resume(r)
		next = (tr.from + 1) * markEvery
		first = tr.slots[next-1].slot + 1
		for stir < len(tr.stirs) && tr.lots[tr.stirs[stir]].IceSlot < first {
			stir++
		}
	} else {
		for f := range tr.flow {
			tr.flow[f] = tr.level[f*tr.n+r]
		}
	}
	tr.sold += len(tr.slots) - next
	for t := first; t < tr.in.Slots; t++ {
		for f := range tr.flow {
			fl := &tr.in.Flows[f]
			x := tr.flow[f]*(1-fl.LossPerSlot) + tr.inflow[f][r*tr.in.Slots+t]
			if x > fl.Capacity {
				x = fl.Capacity
			}
			if t < len(fl.Taken) {
				x = max(0, x-fl.Taken[t])
			}
			tr.flow[f] = x
		}
		for ; stir < len(tr.stirs) && tr.lots[tr.stirs[stir]].IceSlot == t; stir++ {
			i := tr.stirs[stir]
			l := &tr.lots[i]
			got := min(l.IceG, tr.flow[l.IceFlow])
			tr.flow[l.IceFlow] -= got
			tr.left[i] *= got / l.IceG
		}
		if next < len(tr.slots) && tr.slots[next].slot == t {
			cost += tr.sell(r, next)
			if next++; next%markEvery == 0 {
				m := tr.mark(tr.marks, len(tr.lots), r, next/markEvery-1)
				copy(m, tr.left)
				copy(m[len(tr.lots):], tr.flow)
				m[len(m)-1] = cost
			}
		}
	}
	for i := range tr.lots { // what expires within the horizon was not sold after that
		if l := &tr.lots[i]; l.Until <= tr.in.Slots {
			cost += tr.left[i] * tr.rates.Disposal[l.stock]
		}
	}
	return cost
}

// sell serves a slot of tr.slots and returns the cost of aging and of missed sales.
func (tr *Trial) sell(r, at int) float64 {
	need := tr.of(tr.need, tr.things, r, at)
	stocks := len(tr.in.Stocks)
	usable := tr.usable[at*stocks : (at+1)*stocks]
	if !tr.enoughInFirst(need, usable) {
		return tr.sellFrom(r, at, need, usable)
	}
	cost := 0.0
	for k, g := range need {
		if g <= 0 {
			continue
		}
		if k >= stocks {
			tr.flow[k-stocks] = max(0, tr.flow[k-stocks]-g)
			continue
		}
		i := tr.first[k]
		tr.left[tr.able[i]] -= g
		cost += g * tr.ages[i]
	}
	return cost
}

// enoughInFirst reports whether the first lot of each stock that is not empty and the flows have what is needed, as they mostly do, and
// sets tr.first to those lots.
func (tr *Trial) enoughInFirst(need []float64, usable []span) bool {
	for k, g := range need {
		switch {
		case g <= 0:
		case k >= len(usable):
			if g > tr.flow[k-len(usable)] {
				return false
			}
		default:
			i, end := usable[k].from, usable[k].to
			for i < end && tr.left[tr.able[i]] <= 0 {
				i++
			}
			if i == end || tr.left[tr.able[i]] < g {
				return false
			}
			tr.first[k] = i
		}
	}
	return true
}

// sellFrom is sell where more than one lot of a stock is sold from, or something is scarce.
func (tr *Trial) sellFrom(r, at int, need []float64, usable []span) float64 {
	stocks := len(tr.in.Stocks)
	available := tr.serving.available
	scarce, one := 0, 0
	for k, g := range need {
		if g <= 0 {
			continue
		}
		sum := 0.0
		if k >= stocks {
			sum = tr.flow[k-stocks]
		} else {
			for _, i := range tr.able[usable[k].from:usable[k].to] {
				if sum += tr.left[i]; sum >= g && scarce == 0 {
					break
				}
			}
		}
		if available[k] = sum; g > sum {
			if scarce++; scarce == 1 { // now what is left of the others matters
				tr.count(need[:k], usable)
			}
			one = k
		}
	}
	cost, take := 0.0, need
	switch {
	case scarce == 1:
		cost = tr.shareOne(r, at, one)
		take = tr.serving.take
	case scarce > 1:
		cost = tr.shareMany(r, at)
		take = tr.serving.take
	}
	for k, g := range take {
		if g <= 0 {
			continue
		}
		if k >= stocks {
			tr.flow[k-stocks] = max(0, tr.flow[k-stocks]-g)
			continue
		}
		for at := usable[k].from; at < usable[k].to; at++ {
			i, aging := tr.able[at], tr.ages[at]
			left := tr.left[i]
			if left <= 0 {
				continue
			}
			if left >= g {
				tr.left[i] = left - g
				cost += g * aging
				break
			}
			tr.left[i] = 0
			cost += left * aging
			g -= left
		}
	}
	return cost
}

// count sets what is available of the first stocks of a slot.
func (tr *Trial) count(need []float64, usable []span) {
	for k := range need[:min(len(need), len(usable))] {
		sum := 0.0
		for _, i := range tr.able[usable[k].from:usable[k].to] {
			sum += tr.left[i]
		}
		tr.serving.available[k] = sum
	}
}

// shareOne shares a slot's scarce thing evenly among the drinks that take it, where there is enough of all else.
func (tr *Trial) shareOne(r, at, thing int) float64 {
	slot, asked := &tr.slots[at], tr.of(tr.asked, len(tr.in.Drinks), r, at)
	take := tr.serving.take
	copy(take, tr.of(tr.need, tr.things, r, at))
	lack := 1 - tr.serving.available[thing]/take[thing]
	missed, cost := tr.rates.Missed, 0.0
	if tr.isIce(thing) {
		missed = tr.rates.NoIce
	}
	for j := range slot.drinks {
		d := &slot.drinks[j]
		x := asked[d.drink]
		takes := slot.takes[d.take:d.takeEnd]
		if x <= 0 || !slices.ContainsFunc(takes, func(tk slotTake) bool { return tk.thing == thing }) {
			continue
		}
		cost += lack * x * missed[d.drink]
		for _, tk := range takes {
			take[tk.thing] -= lack * x * tk.g
		}
	}
	return cost
}

// shareMany shares a slot's scarce things as the simulation does.
func (tr *Trial) shareMany(r, at int) float64 {
	slot, p := &tr.slots[at], &tr.serving
	asked := tr.of(tr.asked, len(tr.in.Drinks), r, at)
	p.drinks, p.takes = slot.drinks, slot.takes
	p.unserved, p.servable = p.unserved[:0], p.servable[:0]
	for j := range p.drinks {
		p.unserved, p.servable = append(p.unserved, asked[p.drinks[j].drink]), append(p.servable, true)
	}
	p.serveRounds()
	cost := 0.0
	for j := range p.drinks {
		d := &p.drinks[j]
		if p.unserved[j] <= exhausted*asked[d.drink] {
			continue
		}
		missed := tr.rates.Missed
		for _, tk := range p.takes[d.take:d.takeEnd] {
			if tr.isIce(tk.thing) && !p.left(tk.thing) {
				missed = tr.rates.NoIce
			}
		}
		cost += p.unserved[j] * missed[d.drink]
	}
	return cost
}

// isIce reports whether a thing is ice for drinks.
func (tr *Trial) isIce(thing int) bool {
	f := thing - len(tr.in.Stocks)
	return f >= 0 && tr.in.Flows[f].Ice
}
