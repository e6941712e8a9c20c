package batch

import "math"

// estimator estimates the cost of starts quickly: each batch is sized to the demand until the next one, as far as the store has
// room, and stock is served in order of expiry. The estimate is close to the cost with optimal grams and rarely much below it.
type estimator struct {
	p     *problem
	order []int // starts in order of readiness
	want  []float64
	gap   []float64 // by start: demand after it expires and before the next batch is ready
	next  []int     // by beverage: ready slot of the next batch, in the backward pass
	carry []float64 // by beverage: demand that the next batch is too small for
	bevs  []estimatorStock
	held  []float64 // in the store at the end of each slot, as far as known
	take  []float64
	need  []float64
	work  int
}

// estimatorStock is the stock of a beverage, in order of expiry.
type estimatorStock struct {
	lots     []lot
	head     int
	stock    float64
	underWay bool // there are opening lots under way
}

func newEstimator(p *problem) *estimator {
	n := len(p.bevs)
	return &estimator{p: p, next: make([]int, n), carry: make([]float64, n), bevs: make([]estimatorStock, n),
		held: make([]float64, p.slots), take: make([]float64, p.slots), need: make([]float64, p.slots+1)}
}

// cost sets the grams of the starts and returns their estimated cost, infinite if they exceed the store, the ice or, with
// their smallest grams, a limit.
func (g *estimator) cost(starts []batchStart) float64 {
	p := g.p
	g.work += 1 + p.slots*(1+len(p.bevs))/140
	g.plan(starts)
	total, n := 0.0, 0
	copy(g.held, p.early)
	for i := range g.bevs {
		b := &g.bevs[i]
		b.lots, b.head, b.stock, b.underWay = append(b.lots[:0], p.bevs[i].opening...), 0, 0, false
		for _, l := range b.lots {
			if l.ready == 0 && l.expires > 0 {
				b.stock += l.g
			}
			b.underWay = b.underWay || l.ready > 0
		}
	}
	for t := 0; t < p.slots; t++ {
		for ; n < len(g.order); n++ {
			s := &starts[g.order[n]]
			o := &p.opts[s.opt]
			if s.slot+o.ready > t {
				break
			}
			if !g.arrive(s, g.want[g.order[n]], g.gap[g.order[n]], t) {
				return math.Inf(1)
			}
			total += o.fixed + p.bevs[o.bev].unit*s.g
		}
		for i := range g.bevs {
			total += g.bevs[i].serve(&p.bevs[i], t)
			g.held[t] += g.bevs[i].stock
		}
		if g.held[t] > p.store[t]*(1+1e-9)+1e-6 {
			return math.Inf(1)
		}
		for i := range g.bevs {
			total += g.bevs[i].expire(&p.bevs[i], t, p.slots)
		}
	}
	for i := range g.bevs {
		for k := range g.bevs[i].lots {
			if l := &g.bevs[i].lots[k]; l.g > 0 && l.expires > p.slots {
				total += p.bevs[i].leftCost(l) * l.g
			}
		}
	}
	if p.ice != nil {
		p.iceTaken(starts, g.take)
		c, ok := p.ice.run(g.take, g.need, nil)
		if !ok {
			return math.Inf(1)
		}
		total += c
	}
	return total + p.limitCost(starts)
}

// plan orders the starts and sets the stock wanted when each is ready: the demand until the next batch plus that which the next
// batch is too small for.
func (g *estimator) plan(starts []batchStart) {
	p := g.p
	g.order, g.want, g.gap = g.order[:0], g.want[:0], g.gap[:0]
	ready := func(k int) int { return starts[k].slot + p.opts[starts[k].opt].ready }
	for k := range starts {
		g.order, g.want, g.gap = append(g.order, k), append(g.want, 0), append(g.gap, 0)
		for a := len(g.order) - 1; a > 0 && ready(g.order[a]) < ready(g.order[a-1]); a-- {
			g.order[a], g.order[a-1] = g.order[a-1], g.order[a]
		}
	}
	for i := range g.next {
		g.next[i], g.carry[i] = p.slots, 0
	}
	for a := len(g.order) - 1; a >= 0; a-- {
		k := g.order[a]
		o := &p.opts[starts[k].opt]
		b, r := &p.bevs[o.bev], ready(k)
		want := b.cum[g.next[o.bev]] - b.cum[r] + g.carry[o.bev]
		last := min(p.slots, r+b.hold)
		want = min(want, b.cum[last]-b.cum[r])
		g.gap[k] = max(0, b.cum[g.next[o.bev]]-b.cum[last])
		g.want[k] = want
		g.next[o.bev], g.carry[o.bev] = r, max(0, want-o.max)
	}
}

// arrive sizes the batch to the stock wanted and the room in the store, within its limits, and adds it. It reports whether the store
// has room for it before it is ready.
func (g *estimator) arrive(s *batchStart, want, gap float64, t int) bool {
	p := g.p
	o := &p.opts[s.opt]
	b := &g.bevs[o.bev]
	stock := b.stock
	if gap > 0 { // stock that expires after the batch is kept for the gap
		later := 0.0
		for k := b.head; k < len(b.lots); k++ {
			if l := &b.lots[k]; l.ready <= t && l.expires > t+p.bevs[o.bev].hold {
				later += l.g
			}
		}
		stock -= min(later, gap)
	}
	s.g = min(max(want-stock, o.min), o.max)
	if p.whole && o.sizes != nil {
		s.g = o.sizes[o.nearest(s.g)]
	}
	after := g.held[t] - p.store[t]
	for i := range g.bevs {
		stock := g.bevs[i].stock
		if i == o.bev {
			stock += s.g
		}
		after += max(0, stock-p.bevs[i].demand[t])
	}
	if after > 0 {
		s.g = max(o.min, s.g-after)
		if p.whole && o.sizes != nil {
			s.g = o.sizeAtMost(s.g)
		}
	}
	for u := t - o.early; u < t; u++ {
		s.g = max(o.min, min(s.g, p.store[u]-g.held[u]))
	}
	for u := t - o.early; u < t; u++ {
		if g.held[u] += s.g; g.held[u] > p.store[u]*(1+1e-9)+1e-6 {
			return false
		}
	}
	b.lots = append(b.lots, lot{g: s.g, ready: t, expires: t + p.bevs[o.bev].hold, start: 1})
	for a := len(b.lots) - 1; a > b.head && b.lots[a].expires < b.lots[a-1].expires; a-- {
		b.lots[a], b.lots[a-1] = b.lots[a-1], b.lots[a]
	}
	b.stock += s.g
	return true
}

// serve serves the demand of slot t and returns the cost of aging and shortage.
func (b *estimatorStock) serve(v *beverage, t int) float64 {
	need, cost := v.demand[t], 0.0
	for k := b.head; k < len(b.lots) && need > 0; k++ {
		l := &b.lots[k]
		if l.g <= 0 || l.expires <= t {
			if k == b.head {
				b.head++
			}
			continue
		}
		if l.ready > t {
			continue
		}
		y := min(need, l.g)
		l.g -= y
		b.stock -= y
		need -= y
		cost += y * v.aging * float64(t-l.ready)
	}
	return cost + need*v.short
}

// expire discards lots that expire after slot t, returns the cost, and adds opening lots that are ready in the next slot.
func (b *estimatorStock) expire(v *beverage, t, slots int) float64 {
	cost := 0.0
	for b.head < len(b.lots) {
		l := &b.lots[b.head]
		if l.g > 0 && (l.expires > t+1 || l.ready > t || l.expires > slots) {
			break
		}
		if l.g > 0 {
			b.stock -= l.g
			cost += l.g * v.disposal
			l.g = 0
		}
		b.head++
	}
	if b.underWay {
		for k := b.head; k < len(b.lots); k++ {
			if l := &b.lots[k]; l.ready == t+1 && l.start < 0 && t+1 < slots {
				b.stock += l.g
			}
		}
	}
	return cost
}
