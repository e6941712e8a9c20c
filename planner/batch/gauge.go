package batch

import "math"

// gauge judges starts fast: it gives each batch the grams that the demand until the next one asks for, as far as the store
// has room, and serves first what perishes first. What it says is near the best grams' cost, seldom below it by much; the
// fitter has the last word.
type gauge struct {
	p     *problem
	order []int // starts by slot of readiness
	want  []float64
	gap   []float64 // by start: demand after it perishes and before the next batch is ready
	next  []int     // per beverage: ready slot of its next batch, going back
	carry []float64
	bevs  []gaugeStock
	take  []float64
	need  []float64
	work  int
}

// gaugeStock is what there is of a beverage, what perishes first first.
type gaugeStock struct {
	lots  []lot
	head  int
	stock float64
	late  bool // a lot is under way
}

func newGauge(p *problem) *gauge {
	n := len(p.bevs)
	return &gauge{p: p, next: make([]int, n), carry: make([]float64, n), bevs: make([]gaugeStock, n),
		take: make([]float64, p.slots), need: make([]float64, p.slots+1)}
}

// cost sets the grams of the starts and returns what they cost, infinite where the store or the ice does not allow them.
func (g *gauge) cost(starts []batchStart) float64 {
	p := g.p
	g.work += 1 + p.slots*(1+len(p.bevs))/140
	g.plan(starts)
	total, n := 0.0, 0
	for i := range g.bevs {
		b := &g.bevs[i]
		b.lots, b.head, b.stock, b.late = append(b.lots[:0], p.bevs[i].opening...), 0, 0, false
		for _, l := range b.lots {
			if l.ready == 0 && l.expires > 0 {
				b.stock += l.g
			}
			b.late = b.late || l.ready > 0
		}
	}
	for t := 0; t < p.slots; t++ {
		for ; n < len(g.order); n++ {
			s := &starts[g.order[n]]
			o := &p.opts[s.opt]
			if s.slot+o.ready > t {
				break
			}
			g.arrive(s, g.want[g.order[n]], g.gap[g.order[n]], t)
			total += o.fixed + p.bevs[o.bev].unit*s.g
		}
		held := 0.0
		for i := range g.bevs {
			total += g.bevs[i].serve(&p.bevs[i], t)
			held += g.bevs[i].stock
		}
		if held > p.store[t]*(1+1e-9)+1e-6 {
			return math.Inf(1)
		}
		for i := range g.bevs {
			total += g.bevs[i].expire(&p.bevs[i], t, p.slots)
		}
	}
	for i := range g.bevs {
		for k := range g.bevs[i].lots {
			if l := &g.bevs[i].lots[k]; l.g > 0 && l.expires > p.slots {
				total -= p.bevs[i].credit * l.g
			}
		}
	}
	if p.ice != nil {
		p.taken(starts, g.take)
		c, ok := p.ice.run(g.take, g.need, nil)
		if !ok {
			return math.Inf(1)
		}
		total += c
	}
	return total
}

// plan orders the starts and sets what stock each wants when it is ready: the demand until the next batch, and what that
// one cannot make of its own.
func (g *gauge) plan(starts []batchStart) {
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

// arrive makes the batch as large as its stock wants and the store allows, but not less than the least.
func (g *gauge) arrive(s *batchStart, want, gap float64, t int) {
	p := g.p
	o := &p.opts[s.opt]
	b := &g.bevs[o.bev]
	stock := b.stock
	if gap > 0 { // stock that outlives the batch is kept for then
		later := 0.0
		for k := b.head; k < len(b.lots); k++ {
			if l := &b.lots[k]; l.ready <= t && l.expires > t+p.bevs[o.bev].hold {
				later += l.g
			}
		}
		stock -= min(later, gap)
	}
	s.g = min(max(want-stock, o.min), o.max)
	after := -p.store[t]
	for i := range g.bevs {
		stock := g.bevs[i].stock
		if i == o.bev {
			stock += s.g
		}
		after += max(0, stock-p.bevs[i].demand[t])
	}
	if after > 0 {
		s.g = max(o.min, s.g-after)
	}
	b.lots = append(b.lots, lot{g: s.g, ready: t, expires: t + p.bevs[o.bev].hold, start: 1})
	for a := len(b.lots) - 1; a > b.head && b.lots[a].expires < b.lots[a-1].expires; a-- {
		b.lots[a], b.lots[a-1] = b.lots[a-1], b.lots[a]
	}
	b.stock += s.g
}

// serve serves the demand of slot t and returns what that costs.
func (b *gaugeStock) serve(v *beverage, t int) float64 {
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

// expire throws away what perishes after slot t, returns what that costs, and lets in what is under way until the next.
func (b *gaugeStock) expire(v *beverage, t, slots int) float64 {
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
	if b.late {
		for k := b.head; k < len(b.lots); k++ {
			if l := &b.lots[k]; l.ready == t+1 && l.start < 0 && t+1 < slots {
				b.stock += l.g
			}
		}
	}
	return cost
}
