package batch

// lotDP plans one beverage alone at given prices: least cost over all starts, grams and serving, by dynamic programming
// over slots from the last to the first. Its state is a position: of the beverage's whole demand, counted from the first
// slot on, how much is served or will be from what is there. At slot t that lies between the demand before t and the
// demand of the slots that stock can still serve, and the cost to go is piecewise linear in it, so it is exact. Where lots
// leave in the order that they come nothing is lost; an opening lot that outlives a batch widens the range, which only
// lowers the cost: it stays a bound. A beverage that a tracked brewer makes knows that the brewer is busy with its last
// batch; other overlaps cost their price and are no business of this plan.
type lotDP struct {
	p         *problem
	q         *prices
	busy      [][]float64 // prefix sums of prices.brewer
	kept      []float64   // prefix sums of prices.store
	pool      *cutPool
	gram      []float64 // by slot, what store cuts charge for a gram that is ready then
	comes     []float64 // by slot, what they charge for a lot that is ready then
	held      []float64 // by slot, what they charge for a gram held at its end
	kinks     [][]kink  // by slot, what ice cuts give back on the first grams of ice taken then, least grams first
	storeCuts []int     // that have a price
	around    *around   // what other beverages' starts leave; nil: everything is there
	tracked   [][]bool  // by beverage and brewer

	states []busyState
	first  []int // by brewer: its first state, 0 for none
	stages []stage
	arena  []*piecewise
	next   int
	spare  []*piecewise // of the arena, given back
	cur    []*piecewise
	was    []*piecewise
	slider slider
	offers []offer
	w      [3]piecewise
	cands  []*piecewise
	root   *piecewise // cost to go at slot 0
	work   int        // points made
}

// busyState says that a brewer is taken by this beverage's last batch for left more slots; state 0 says nothing.
type busyState struct {
	brewer, left int
}

// stage is a moment at which at most one of the options may add a batch. after[s] is the cost to go once that is decided.
type stage struct {
	slot    int
	serve   bool // no batch: the slot's demand is served
	opts    []int
	opening int // a lot under way that joins here, -1 for none
	after   []*piecewise
}

// around is what starts of other beverages leave of what is shared.
type around struct {
	taken  [][]int // by brewer: prefix sums of slots taken
	people []int   // starts left, by slot
	room   []float64
}

// longestTracked bounds the states of a brewer: a batch that takes longer is forgotten after so many slots.
const longestTracked = 6

// kink charges price for each gram of ice beyond g.
type kink struct{ g, price float64 }

func newLotDP(p *problem, pool *cutPool) *lotDP {
	d := &lotDP{p: p, pool: pool, gram: make([]float64, p.slots), comes: make([]float64, p.slots), held: make([]float64, p.slots), kinks: make([][]kink, p.slots), busy: make([][]float64, p.brewer), kept: make([]float64, p.slots+1), tracked: make([][]bool, len(p.bevs))}
	for b := range d.busy {
		d.busy[b] = make([]float64, p.slots+1)
	}
	for i := range d.tracked {
		d.tracked[i] = make([]bool, p.brewer)
	}
	return d
}

// setPrices sets the prices of the plans to come.
func (d *lotDP) setPrices(q *prices) {
	d.q = q
	for b := range d.busy {
		for t, v := range q.brewer[b] {
			d.busy[b][t+1] = d.busy[b][t] + v
		}
	}
	for t, v := range q.store {
		d.kept[t+1] = d.kept[t] + v
	}
	d.setCuts(q)
}

// setCuts spreads the prices of cuts over what they charge for.
func (d *lotDP) setCuts(q *prices) {
	clear(d.gram)
	clear(d.comes)
	clear(d.held)
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
			d.held[k.from-1] += price
		}
		for t := k.from; t <= k.to; t++ {
			if k.kind == cutStore {
				d.gram[t] += price
				d.comes[t] -= price * k.credit[t-k.from]
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
			// Batches that wait differently are not in the order of their starts: nothing is tracked.
			d.states = d.states[:1]
			clear(d.first)
			return
		}
		ready = o.ready
		if d.tracked[i][o.brewer] && o.busy > 1 {
			d.first[o.brewer] = len(d.states)
			for j := 1; j <= min(o.busy, longestTracked); j++ {
				d.states = append(d.states, busyState{brewer: o.brewer, left: j})
			}
		}
	}
}

// started is the state in the slot of a start of option k.
func (d *lotDP) started(k int) int {
	o := &d.p.opts[k]
	if f := d.first[o.brewer]; f > 0 {
		return f + min(o.busy, longestTracked) - 1
	}
	return 0
}

// passed is the state s one slot later.
func (d *lotDP) passed(s int) int {
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

// beverage is the least priced cost of beverage i alone: no plan of it costs less at these prices.
func (d *lotDP) beverage(i int) float64 {
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
	d.cur, d.was, d.cands = resize(d.cur, n), resize(d.was, n), resize(d.cands, n)
	for s := range d.cur {
		d.cur[s] = end
	}
	for t := p.slots - 1; t >= 0; t-- {
		room := p.store[t]
		if d.around != nil {
			room = d.around.room[t]
		}
		last := b.cum[min(p.slots, t+b.hold)]
		most := min(b.cum[t+1]+room, b.cum[min(p.slots, max(t+b.hold, latest))], last+b.outliving(t))
		copy(d.was, d.cur)
		for s := range d.was {
			d.cur[s] = nil
			for r := 0; r < s; r++ {
				if d.was[r] == d.was[s] {
					d.cur[s] = d.cur[r]
					break
				}
			}
			if d.cur[s] == nil {
				d.cur[s] = d.serve(b, t, most, d.was[s])
			}
		}
		d.stages = append(d.stages, stage{slot: t, serve: true, opening: -1})
		copy(d.was, d.cur)
		for s := range d.cur {
			d.cur[s] = d.was[d.passed(s)]
		}
		d.batches(i, t)
	}
	d.root = d.cur[0]
	for _, f := range d.arena[:d.next] {
		d.work += (4 + len(f.x)) / 2
	}
	return d.openingLots(i)
}

// outliving is what opening lots hold that perish after a batch that is ready in slot t.
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

// serve goes back over the serving of slot t: what is left at its end ages and fills the store, what is not there is short.
func (d *lotDP) serve(b *beverage, t int, most float64, f *piecewise) *piecewise {
	out := d.function()
	demand := b.cum[t+1] - b.cum[t]
	if demand > 1e-6 {
		out.x, out.y = append(out.x, b.cum[t]), append(out.y, f.y[0]+b.short*demand)
	}
	out.x, out.y = append(out.x, f.x...), append(out.y, f.y...)
	out.cutAbove(most)
	keep := b.aging + d.q.store[t] + d.held[t]
	for j, x := range out.x {
		if x > b.cum[t+1] {
			out.y[j] += keep * (x - b.cum[t+1])
		}
	}
	out.x[0] = b.cum[t]
	return out
}

// batches goes back over the batches that are ready in slot t.
func (d *lotDP) batches(i, t int) {
	p, b := d.p, &d.p.bevs[i]
	alone := true // at most one batch of this beverage can join here
	var opts []int
	for _, k := range b.opts {
		if s := t - p.opts[k].ready; s >= 0 && p.opts[k].may[s] && d.free(k, s) {
			opts = append(opts, k)
			people := p.people[s]
			if d.around != nil {
				people = d.around.people[s]
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
			dead := b.leftCost(l, p.slots) + d.storing(l.ready, l.expires)
			for s := range d.cur {
				f := d.function()
				d.slider.slide(f, d.cur[s], 0, l.g, -dead, dead*l.g, dead)
				d.cur[s] = f
			}
		}
	}
}

// free says whether other beverages leave room for a start.
func (d *lotDP) free(k, slot int) bool {
	if d.around == nil {
		return true
	}
	o := &d.p.opts[k]
	taken := d.around.taken[o.brewer]
	return d.around.people[slot] > 0 && taken[slot+o.busy] == taken[slot]
}

// join goes back over the choice of no batch or one batch by one of opts.
func (d *lotDP) join(t int, opts []int) {
	d.stages = append(d.stages, stage{slot: t, opts: opts, opening: -1, after: append([]*piecewise(nil), d.cur...)})
	copy(d.was, d.cur)
	offers := d.offers[:0]
	for _, k := range opts {
		offers = append(offers, d.offer(k, t-d.p.opts[k].ready))
	}
	d.offers = offers
	for n, k := range opts {
		f := &offers[n]
		if d.beaten(n, opts) {
			continue
		}
		from := d.was[d.started(k)]
		d.work += (1 + f.pieces) * (4 + len(from.x)) / 2
		if d.slider.slide(&d.w[0], from, 0, f.bend, -f.dead, f.base+f.dead*f.bend, f.dead) {
			d.lower(&d.w[0], d.p.opts[k].brewer)
		}
		lo, base := f.bend, f.base
		for m := 0; m < f.pieces; m++ {
			s := f.slope[m]
			if d.slider.slide(&d.w[0], from, lo, f.to[m], s, base-s*lo, -s) {
				d.lower(&d.w[0], d.p.opts[k].brewer)
			}
			base += s * (f.to[m] - lo)
			lo = f.to[m]
		}
	}
}

// beaten says whether another of opts does all that the n-th does for less.
func (d *lotDP) beaten(n int, opts []int) bool {
	f := &d.offers[n]
	if len(d.states) > 1 {
		return false
	}
	for m := range opts {
		g := &d.offers[m]
		if m == n || g.most() < f.most() || !g.noDearer(f) {
			continue
		}
		if m < n || f.most() < g.most() || !f.noDearer(g) {
			return true
		}
	}
	return false
}

// lower takes candidate g into every state in which the brewer is not known to be busy.
func (d *lotDP) lower(g *piecewise, brewer int) {
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
		if !below(g, d.cands[s]) { // functions that stay one are worked out once
			d.work += (4 + len(g.x)) / 4
			continue
		}
		f := d.function()
		lowerEnvelope(f, d.cands[s], g)
		d.cur[s] = f
		d.work += 4 + len(f.x)
	}
	for s, f := range d.cands { // what this join made and nobody needs any more is used again
		used := false
		for r := range d.cur {
			used = used || d.cur[r] == f || d.was[r] == f || r < s && d.cands[r] == f
		}
		if !used {
			d.spare = append(d.spare, f)
		}
	}
}
