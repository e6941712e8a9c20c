package batch

// lotDP solves the pricing problem: one beverage alone at given prices, with minimum cost over all starts, grams and serving, by
// backward dynamic programming over the slots. The state is a position in the beverage's cumulative demand: how much of it has
// been served or will be from stock at hand. At slot t that is between the demand before t and the demand of the slots that the
// stock can still serve, and the cost to go is piecewise linear in it, so the solution is exact if lots expire in the order in
// which they become ready. An opening lot that outlives a batch widens the range, which can only lower the cost: it remains a
// bound. On tracked brewers the state also has the time that the beverage's last batch still occupies the brewer; other
// overlaps are covered only by their prices.
type lotDP struct {
	p         *problem
	q         *prices
	busySum   [][]float64 // prefix sums of prices.brewer
	storeSum  []float64   // prefix sums of prices.store
	pool      *cutPool
	gramPrice []float64 // by slot, price of store cuts per gram that becomes ready
	lotPrice  []float64 // by slot, price of store cuts per lot that becomes ready
	heldPrice []float64 // by slot, price of store cuts per gram held at its end
	kinks     [][]kink  // by slot, prices of ice cuts on ice taken, by threshold
	storeCuts []int     // those with a price
	residual  *residual // capacity left by the other beverages; nil: all of it
	tracked   [][]bool  // by beverage and brewer

	states []busyState
	first  []int // by brewer: its first state, 0 for none
	stages []stage
	arena  []*piecewise
	next   int
	spare  []*piecewise // freed functions of the arena
	cur    []*piecewise
	prev   []*piecewise
	slider slider
	costs  []startCost
	w      [3]piecewise
	cands  []*piecewise
	root   *piecewise // cost to go at slot 0
	work   int        // breakpoints computed
}

// busyState is a state in which a brewer is occupied by this beverage's last batch for left more slots; state 0 has none.
type busyState struct {
	brewer, left int
}

// stage is a stage of the dynamic program: serving a slot's demand, or adding at most one batch of opts, or an opening lot.
// after[s] is the cost to go from state s after the decision.
type stage struct {
	slot    int
	serve   bool
	opts    []int
	opening int // index of an opening lot under way that becomes ready, -1 for none
	after   []*piecewise
}

// residual is the capacity left by the starts of the other beverages.
type residual struct {
	busy   [][]int   // by brewer: prefix sums of occupied slots
	people []int     // starts left, by slot
	room   []float64 // in the store for what is served later, by slot, g
	whole  []float64 // in the store, by slot, g

	from, to int          // the slots in which starts are free; to is 0 for all
	kept     []batchStart // the only starts possible in other slots
	used     usage        // of work and baths
}

// free lets starts be in all slots.
func (r *residual) free() { r.from, r.to = 0, 0 }

// maxTracked limits the states per brewer: a longer batch is tracked for this many slots only.
const maxTracked = 6

// kink is a price per gram of ice beyond g.
type kink struct{ g, price float64 }

func newLotDP(p *problem, pool *cutPool) *lotDP {
	d := &lotDP{p: p, pool: pool, gramPrice: make([]float64, p.slots), lotPrice: make([]float64, p.slots), heldPrice: make([]float64, p.slots), kinks: make([][]kink, p.slots), busySum: make([][]float64, p.brewer), storeSum: make([]float64, p.slots+1), tracked: make([][]bool, len(p.bevs))}
	for b := range d.busySum {
		d.busySum[b] = make([]float64, p.slots+1)
	}
	for i := range d.tracked {
		d.tracked[i] = make([]bool, p.brewer)
	}
	return d
}

// setPrices sets the prices for the next calls of solve.
func (d *lotDP) setPrices(q *prices) {
	d.q = q
	for b := range d.busySum {
		for t, v := range q.brewer[b] {
			d.busySum[b][t+1] = d.busySum[b][t] + v
		}
	}
	for t, v := range q.store {
		d.storeSum[t+1] = d.storeSum[t] + v
	}
	d.setCuts(q)
}

// setCuts converts the prices of cuts to prices per gram, lot and level.
func (d *lotDP) setCuts(q *prices) {
	clear(d.gramPrice)
	clear(d.lotPrice)
	clear(d.heldPrice)
	d.storeCuts = d.storeCuts[:0]
	for t := range d.kinks {
		d.kinks[t] = d.kinks[t][:0]
	}
	for n, price := range q.cut {
		if price <= 0 {
			continue
		}
		k := &d.pool.cuts[n]
		if k.kind == cutStore {
			d.storeCuts = append(d.storeCuts, n)
			d.heldPrice[k.from-1] += price
		}
		for t := k.from; t <= k.to; t++ {
			if k.kind == cutStore {
				d.gramPrice[t] += price
				d.lotPrice[t] -= price * k.credit[t-k.from]
				continue
			}
			at := append(d.kinks[t], kink{k.credit[t-k.from], price})
			for a := len(at) - 1; a > 0 && at[a].g < at[a-1].g; a-- {
				at[a], at[a-1] = at[a-1], at[a]
			}
			d.kinks[t] = at
		}
	}
}

// layout numbers the states of beverage i.
func (d *lotDP) layout(i int) {
	d.states = append(d.states[:0], busyState{brewer: -1})
	if d.first == nil {
		d.first = make([]int, d.p.brewer)
	}
	clear(d.first)
	ready := -1
	for _, k := range d.p.bevs[i].opts {
		o := &d.p.opts[k]
		if ready >= 0 && o.ready != ready {
			// With different lead times batches are not ready in the order of their starts: nothing is tracked.
			d.states = d.states[:1]
			clear(d.first)
			return
		}
		ready = o.ready
		if d.tracked[i][o.brewer] && o.busy > 1 {
			d.first[o.brewer] = len(d.states)
			for j := 1; j <= min(o.busy, maxTracked); j++ {
				d.states = append(d.states, busyState{brewer: o.brewer, left: j})
			}
		}
	}
}

// startState is the state after a start of option k.
func (d *lotDP) startState(k int) int {
	o := &d.p.opts[k]
	if f := d.first[o.brewer]; f > 0 {
		return f + min(o.busy, maxTracked) - 1
	}
	return 0
}

// nextState is the state that follows s after one slot.
func (d *lotDP) nextState(s int) int {
	if d.states[s].left > 1 {
		return s - 1
	}
	return 0
}

func (d *lotDP) function() *piecewise {
	if n := len(d.spare); n > 0 {
		f := d.spare[n-1]
		d.spare = d.spare[:n-1]
		f.reset()
		return f
	}
	if d.next == len(d.arena) {
		d.arena = append(d.arena, &piecewise{})
	}
	f := d.arena[d.next]
	d.next++
	f.reset()
	return f
}

// solve returns the minimum cost of beverage i alone at the current prices.
func (d *lotDP) solve(i int) float64 {
	p, b := d.p, &d.p.bevs[i]
	d.next, d.stages, d.spare = 0, d.stages[:0], d.spare[:0]
	d.layout(i)
	latest := 0
	for _, l := range b.opening {
		latest = max(latest, l.expires)
	}
	end := d.function()
	end.add(b.cum[p.slots], 0)
	n := len(d.states)
	d.cur, d.prev, d.cands = resize(d.cur, n), resize(d.prev, n), resize(d.cands, n)
	for s := range d.cur {
		d.cur[s] = end
	}
	for t := p.slots - 1; t >= 0; t-- {
		room := p.store[t]
		if d.residual != nil {
			room = d.residual.room[t]
		}
		last := b.cum[min(p.slots, t+b.hold)]
		most := min(b.cum[t+1]+room, b.cum[min(p.slots, max(t+b.hold, latest))], last+b.outliving(t))
		copy(d.prev, d.cur)
		for s := range d.prev {
			d.cur[s] = nil
			for r := 0; r < s; r++ {
				if d.prev[r] == d.prev[s] {
					d.cur[s] = d.cur[r]
					break
				}
			}
			if d.cur[s] == nil {
				d.cur[s] = d.serve(b, t, most, d.prev[s])
			}
		}
		d.stages = append(d.stages, stage{slot: t, serve: true, opening: -1})
		copy(d.prev, d.cur)
		for s := range d.cur {
			d.cur[s] = d.prev[d.nextState(s)]
		}
		d.batches(i, t)
	}
	d.root = d.cur[0]
	for _, f := range d.arena[:d.next] {
		d.work += (4 + len(f.x)) / 2
	}
	return d.addOpeningLots(i)
}

// outliving is the mass of opening lots that expire after a batch ready in slot t.
func (b *beverage) outliving(t int) float64 {
	g := 0.0
	for k := range b.opening {
		if b.opening[k].expires > t+b.hold {
			g += b.opening[k].g
		}
	}
	return g
}

func resize(fs []*piecewise, n int) []*piecewise {
	for len(fs) < n {
		fs = append(fs, nil)
	}
	return fs[:n]
}

// serve is the backward step over the serving of slot t: stock left at its end ages and occupies the store, unmet demand is
// short.
func (d *lotDP) serve(b *beverage, t int, most float64, f *piecewise) *piecewise {
	out := d.function()
	demand := b.cum[t+1] - b.cum[t]
	if demand > 1e-6 {
		out.x, out.y = append(out.x, b.cum[t]), append(out.y, f.y[0]+b.short*demand)
	}
	out.x, out.y = append(out.x, f.x...), append(out.y, f.y...)
	out.cutAbove(most)
	keep := b.aging + d.q.store[t] + d.heldPrice[t]
	for j, x := range out.x {
		if x > b.cum[t+1] {
			out.y[j] += keep * (x - b.cum[t+1])
		}
	}
	out.x[0] = b.cum[t]
	return out
}

// batches is the backward step over the batches and opening lots that become ready in slot t.
func (d *lotDP) batches(i, t int) {
	p, b := d.p, &d.p.bevs[i]
	alone := true // at most one batch of this beverage can become ready here
	var opts []int
	for _, k := range b.opts {
		if s := t - p.opts[k].ready; s >= 0 && p.opts[k].canStart[s] && d.canStart(k, s) {
			opts = append(opts, k)
			people := p.people[s]
			if d.residual != nil {
				people = d.residual.people[s]
			}
			alone = alone && people == 1 && p.opts[k].ready == p.opts[opts[0]].ready
		}
	}
	if alone && len(opts) > 0 {
		d.join(t, opts)
	} else {
		for k := range opts {
			d.join(t, opts[k:k+1])
		}
	}
	for n := range b.opening {
		if l := &b.opening[n]; l.ready == t && t > 0 {
			d.stages = append(d.stages, stage{slot: t, opening: n, after: append([]*piecewise(nil), d.cur...)})
			dead := b.leftCost(l) + d.storePrice(l.ready, l.expires)
			for s := range d.cur {
				f := d.function()
				d.slider.slide(f, d.cur[s], 0, l.g, -dead, dead*l.g, dead)
				d.cur[s] = f
			}
		}
	}
}

// canStart reports whether the other beverages leave a brewer, people and a bath for a start.
func (d *lotDP) canStart(k, slot int) bool {
	if d.residual == nil {
		return true
	}
	if r := d.residual; r.to > 0 && (slot < r.from || slot >= r.to) && !contains(r.kept, batchStart{opt: k, slot: slot}) {
		return false
	}
	o := &d.p.opts[k]
	taken := d.residual.busy[o.brewer]
	return d.residual.people[slot] > 0 && taken[slot+o.busy] == taken[slot] && d.residual.used.leaves(d.p, k, slot)
}

// join is the backward step over the choice of at most one batch, of one of opts.
func (d *lotDP) join(t int, opts []int) {
	d.stages = append(d.stages, stage{slot: t, opts: opts, opening: -1, after: append([]*piecewise(nil), d.cur...)})
	copy(d.prev, d.cur)
	offers := d.costs[:0]
	for _, k := range opts {
		offers = append(offers, d.startCost(k, t-d.p.opts[k].ready))
	}
	d.costs = offers
	for n, k := range opts {
		f := &offers[n]
		if d.dominated(n, opts) {
			continue
		}
		from := d.prev[d.startState(k)]
		d.work += (1 + f.pieces) * (4 + len(from.x)) / 2
		if d.slider.slide(&d.w[0], from, f.least, f.floor, -f.unserved, f.base+f.unserved*f.floor, f.unserved) && d.w[0].x[0] <= f.before {
			d.w[0].cutAbove(f.before)
			d.mergeMin(&d.w[0], d.p.opts[k].brewer)
		}
		lo, base := f.floor, f.base
		for m := 0; m < f.pieces; m++ {
			s := f.slope[m]
			if d.slider.slide(&d.w[0], from, lo, f.to[m], s, base-s*lo, -s) {
				d.mergeMin(&d.w[0], d.p.opts[k].brewer)
			}
			base += s * (f.to[m] - lo)
			lo = f.to[m]
		}
	}
}

// dominated reports whether another of opts dominates the n-th: at least the same grams for at most the same cost.
func (d *lotDP) dominated(n int, opts []int) bool {
	f := &d.costs[n]
	if len(d.states) > 1 {
		return false
	}
	for m := range opts {
		g := &d.costs[m]
		if m == n || g.maxG() < f.maxG() || !g.dominates(f) {
			continue
		}
		if m < n || f.maxG() < g.maxG() || !f.dominates(g) {
			return true
		}
	}
	return false
}

// mergeMin merges candidate g, by minimum, into every state in which the brewer is not known to be busy.
func (d *lotDP) mergeMin(g *piecewise, brewer int) {
	copy(d.cands, d.cur)
	for s := range d.cur {
		if s > 0 && d.states[s].brewer == brewer {
			continue
		}
		same := -1
		for r := 0; r < s && same < 0; r++ {
			if d.cands[r] == d.cands[s] && !(r > 0 && d.states[r].brewer == brewer) {
				same = r
			}
		}
		if same >= 0 {
			d.cur[s] = d.cur[same]
			continue
		}
		if !lowerAnywhere(g, d.cands[s]) { // unchanged, so it remains shared between states
			d.work += (4 + len(g.x)) / 4
			continue
		}
		f := d.function()
		lowerEnvelope(f, d.cands[s], g)
		d.cur[s] = f
		d.work += 4 + len(f.x)
	}
	for s, f := range d.cands { // free functions that are no longer referenced
		used := false
		for r := range d.cur {
			used = used || d.cur[r] == f || d.prev[r] == f || r < s && d.cands[r] == f
		}
		if !used {
			d.spare = append(d.spare, f)
		}
	}
}
