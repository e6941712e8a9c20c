package batch

import (
	"cmp"
	"slices"
)

// cut is a valid inequality that strengthens the master problem. A convex combination of plans can spread a batch over many
// slots and so fill the store, or empty the bin, a little at a time; real batches come in lumps.
//
// Store cut for slots [from, to]: the last lot to arrive has no more room than there was before from, plus the amounts served
// since. So stock before from and arrivals are at most the store plus the demand of slots that a lot still follows:
// Σ over lots of (grams − demand of [from, ready]) + stock before from ≤ store. A batch counts from the slot in which it is ready, also
// where it is in the store before: that only leaves less room.
//
// Ice cut for slot to: a batch that took more ice than can be made since then has left the bin below full by the difference:
// level at the end of to + Σ over batches of the ice taken beyond production until to ≤ capacity. These are like the (l, S)
// inequalities of Barany, Van Roy & Wolsey, Management Science 30 (1984), for lot sizing, with room in place of stock.
type cut struct {
	kind     cutKind
	from, to int
	rhs      float64   // g
	credit   []float64 // by slot from from on: demand of [from, slot], or ice production in [slot, to]
}

type cutKind uint8

const (
	cutStore cutKind = iota
	cutIce
)

// cutPool numbers the cuts of one solve.
type cutPool struct {
	p    *problem
	cuts []cut
	seen map[[3]int]int
}

const (
	maxCutSlots = 16 // slots
	maxCuts     = 60
	maxIceKinks = 3 // ice cuts over one slot: each adds a breakpoint to the cost of a batch
)

func newCutPool(p *problem) *cutPool {
	return &cutPool{p: p, seen: map[[3]int]int{}}
}

// index returns the number of a cut and adds it if it is new.
func (c *cutPool) index(kind cutKind, from, to int) int {
	key := [3]int{int(kind), from, to}
	if n, known := c.seen[key]; known {
		return n
	}
	k := cut{kind: kind, from: from, to: to, credit: make([]float64, to-from+1)}
	p := c.p
	if kind == cutStore {
		sum := 0.0
		for t := from; t <= to; t++ {
			for i := range p.bevs {
				sum += p.bevs[i].demand[t]
			}
			k.credit[t-from] = sum
			k.rhs = max(k.rhs, p.store[t])
		}
	} else {
		sum := 0.0
		k.rhs = p.ice.capacity
		for t := to; t >= from; t-- {
			sum += p.ice.make[t]
			k.credit[t-from] = sum
		}
	}
	c.cuts = append(c.cuts, k)
	c.seen[key] = len(c.cuts) - 1
	return len(c.cuts) - 1
}

// shortestHold is the shortest shelf life, slots. A store cut must be shorter, so that arrivals cannot expire within it.
func (p *problem) shortestHold() int {
	hold := p.slots
	for i := range p.bevs {
		hold = min(hold, p.bevs[i].hold)
	}
	return hold
}

// lhs is the left-hand side of the cut for plan pl.
func (k *cut) lhs(p *problem, pl *plan) float64 {
	sum := 0.0
	if k.kind == cutIce {
		for _, s := range pl.starts {
			o := &p.opts[s.opt]
			if t := s.slot + o.iceSlots; t >= k.from && t <= k.to {
				sum += max(0, s.g*o.icePerG-k.credit[t-k.from])
			}
		}
		return sum
	}
	if k.from > 0 {
		sum = pl.level[k.from-1]
		for _, l := range pl.unserved {
			if l.ready < k.from && l.expires >= k.from && l.expires <= k.to {
				sum -= l.g
			}
		}
	}
	for _, s := range pl.starts {
		o := &p.opts[s.opt]
		t := s.slot + o.ready
		if t >= k.from && t <= k.to {
			sum += s.g - k.credit[t-k.from]
		}
		if t >= k.from && t-o.early < k.from {
			sum -= s.g // in the level before from, but not ready
		}
	}
	return sum
}

// violatedCut is a cut violated by the master solution.
type violatedCut struct {
	kind      cutKind
	from, to  int
	violation float64
}

// separate adds a few of the most violated cuts and returns their number.
func (m *master) separate() int {
	if len(m.pool.cuts) >= maxCuts {
		return 0
	}
	all := append(m.violatedStoreCuts(), m.violatedIceCuts()...)
	slices.SortStableFunc(all, func(a, b violatedCut) int { return cmp.Compare(b.violation, a.violation) })
	n := 0
	var taken []violatedCut
	for _, f := range all {
		near := false
		for _, o := range taken {
			near = near || f.kind == cutStore && o.kind == f.kind && o.to-f.to < 3 && f.to-o.to < 3
		}
		if near || n >= 4 || (f.kind == cutIce && m.iceKinks(f.from, f.to) >= maxIceKinks) {
			continue
		}
		taken = append(taken, f)
		m.addCut(m.pool.index(f.kind, f.from, f.to))
		n++
	}
	return n
}

func (m *master) iceKinks(from, to int) int {
	most := 0
	for t := from; t <= to; t++ {
		n := 0
		for _, key := range m.rows {
			if key.kind == rowCut {
				if k := &m.pool.cuts[key.of]; k.kind == cutIce && k.from <= t && t <= k.to {
					n++
				}
			}
		}
		most = max(most, n)
	}
	return most
}

// weightedStart is a fractional start of the master solution.
type weightedStart struct {
	slot   int // in which it is ready, or takes its ice
	g      float64
	weight float64
}

// violatedStoreCuts finds the most violated store cut for each last slot.
func (m *master) violatedStoreCuts() []violatedCut {
	p := m.p
	level, demand := make([]float64, p.slots), make([]float64, p.slots)
	starts, grams := make([]float64, p.slots), make([]float64, p.slots)
	m.stock(level)
	for i := range p.bevs {
		for t, d := range p.bevs[i].demand {
			demand[t] += d
		}
		for _, l := range p.bevs[i].opening {
			if l.ready > 0 && l.ready < p.slots {
				return nil // the cuts do not cover opening lots under way
			}
		}
	}
	m.eachActive(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			t := s.slot + p.opts[s.opt].ready
			starts[t] += w
			grams[t] += w * s.g
			for u := t - p.opts[s.opt].early; u < t; u++ {
				level[u] -= w * s.g
			}
		}
	})
	longest := min(maxCutSlots, p.shortestHold()-1)
	var out []violatedCut
	for b := range level {
		best := violatedCut{kind: cutStore, violation: 50}
		count, sum, room := 0.0, 0.0, 0.0
		for a := b; a > 0 && a > b-longest && count < 1.5; a-- {
			count += starts[a]
			sum += grams[a]
			room += demand[a] * count
			if over := level[a-1] + sum - room - p.store[a]; over > best.violation {
				best.from, best.to, best.violation = a, b, over
			}
		}
		if best.to > 0 && !m.has(best) {
			out = append(out, best)
		}
	}
	return out
}

// violatedIceCuts finds the most violated ice cut for each last slot.
func (m *master) violatedIceCuts() []violatedCut {
	b := m.p.ice
	if b == nil || m.theta >= 0 {
		return nil
	}
	p := m.p
	var takes []weightedStart
	m.eachActive(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			o := &p.opts[s.opt]
			if t := s.slot + o.iceSlots; t < p.slots && o.icePerG > 0 {
				takes = append(takes, weightedStart{slot: t, g: s.g * o.icePerG, weight: w})
			}
		}
	})
	most := 0.0
	for k := range p.opts {
		most = max(most, p.opts[k].max*p.opts[k].icePerG)
	}
	var out []violatedCut
	for n, s := range m.spans {
		f := violatedCut{kind: cutIce, from: s.to, to: s.to}
		for makes := b.make[s.to]; f.from > 0 && makes < most && f.from > s.to-maxCutSlots; f.from-- {
			makes += b.make[f.from-1]
		}
		f.violation = 1000*m.lp.value(3*n) - b.capacity
		makes := 0.0
		for t := s.to; t >= f.from; t-- {
			makes += b.make[t]
			for _, take := range takes {
				if take.slot == t {
					f.violation += take.weight * max(0, take.g-makes)
				}
			}
		}
		if f.violation > 50 && !m.has(f) {
			out = append(out, f)
		}
	}
	return out
}

func (m *master) has(f violatedCut) bool {
	n, known := m.pool.seen[[3]int{int(f.kind), f.from, f.to}]
	if !known {
		return false
	}
	_, known = m.seen[rowKey{kind: rowCut, of: n}]
	return known
}

// eachActive calls f for every plan with positive weight in the master solution, except the idle ones.
func (m *master) eachActive(f func(pl *plan, w float64)) {
	for j, pl := range m.cols {
		if pl != nil {
			if w := m.lp.value(j); w > 1e-9 {
				f(pl, w)
			}
		}
	}
}

// stock sets level to the stock of the master solution at the end of each slot.
func (m *master) stock(level []float64) {
	clear(level)
	for _, b := range m.idle {
		for t, g := range b.level {
			level[t] += g
		}
	}
	m.eachActive(func(pl *plan, w float64) {
		for t, g := range pl.level {
			level[t] += w * (g - m.idle[pl.bev].level[t])
		}
	})
}

// addCut adds the row of a cut.
func (m *master) addCut(number int) {
	k := &m.pool.cuts[number]
	key := rowKey{kind: rowCut, of: number}
	rhs := k.rhs
	for _, b := range m.idle {
		rhs -= k.lhs(m.p, b)
	}
	m.row(key, rhs/1000, m.penalty)
}

// cutIceCoef is the coefficient of column j of the bin in a cut.
func (m *master) cutIceCoef(k *cut, j int) float64 {
	if k.kind == cutIce && j%3 == 0 && j < 3*len(m.spans) && m.spans[j/3].to == k.to {
		return 1
	}
	return 0
}
