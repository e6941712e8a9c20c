package batch

import (
	"cmp"
	"slices"
)

// A mix of plans may spread a batch over many slots and so fill the store, or empty the bin, a little at a time, which no
// plan can: batches come in lumps. Cuts say what lumps imply.
//
// Store, for slots [from, to]: the last lot that comes in finds no more room than was there before from, and what was served since then. So
// what is held before from, and all that comes in, is at most the store and the demand of those slots that a lot still
// follows. Σ over lots of grams − demand of [from, ready] + held before from ≤ store.
//
// Ice, for slot to: a batch that took more than can be made since then has left the bin that much below full.
// Level at the end of to + Σ over batches of what they took beyond what can be made until then ≤ capacity (as the cuts of
// Barany, Van Roy & Wolsey, Management Science 30 (1984), for lot sizing, with room in the place of stock).
type cut struct {
	kind     cutKind
	from, to int
	rhs      float64   // g
	credit   []float64 // from slot from on: demand of [from, slot]; or ice that can be made in [slot, to]
}

type cutKind uint8

const (
	cutStore cutKind = iota
	cutIce
)

// cutPool numbers the cuts that parts of one solve share.
type cutPool struct {
	p    *problem
	cuts []cut
	seen map[[3]int]int
}

const (
	longestCut   = 16 // slots
	mostCuts     = 60
	mostIceKinks = 3 // ice cuts over one slot: each bends the cost of a batch
)

func newCutPool(p *problem) *cutPool {
	return &cutPool{p: p, seen: map[[3]int]int{}}
}

// number returns the number of a cut, known or new.
func (c *cutPool) number(kind cutKind, from, to int) int {
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

// shortestHold is the shortest time that a batch keeps: a store cut must be shorter, so that what comes in is still there.
func (p *problem) shortestHold() int {
	hold := p.slots
	for i := range p.bevs {
		hold = min(hold, p.bevs[i].hold)
	}
	return hold
}

// of is what plan pl adds to the left side of the cut.
func (k *cut) of(p *problem, pl *plan) float64 {
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
		for _, l := range pl.dead {
			if l.ready < k.from && l.expires >= k.from && l.expires <= k.to {
				sum -= l.g
			}
		}
	}
	for _, s := range pl.starts {
		if t := s.slot + p.opts[s.opt].ready; t >= k.from && t <= k.to {
			sum += s.g - k.credit[t-k.from]
		}
	}
	return sum
}

// found is a cut that a mix breaks.
type found struct {
	kind     cutKind
	from, to int
	over     float64
}

// separate adds the cuts that the mix breaks most, a few at a time, and says how many.
func (m *master) separate() int {
	if len(m.pool.cuts) >= mostCuts {
		return 0
	}
	all := append(m.brokenStore(), m.brokenIce()...)
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(b.over, a.over) })
	n := 0
	var taken []found
	for _, f := range all {
		near := false
		for _, o := range taken {
			near = near || f.kind == cutStore && o.kind == f.kind && o.to-f.to < 3 && f.to-o.to < 3
		}
		if near || n >= 4 || (f.kind == cutIce && m.iceKinks(f.from, f.to) >= mostIceKinks) {
			continue
		}
		taken = append(taken, f)
		m.addCut(m.pool.number(f.kind, f.from, f.to))
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

// mixed is a start of a plan in the mix.
type mixed struct {
	slot   int // ready, or when it takes its ice
	g      float64
	weight float64
}

// brokenStore finds, for each last slot, the store cut that the mix breaks most.
func (m *master) brokenStore() []found {
	p := m.p
	level, demand := make([]float64, p.slots), make([]float64, p.slots)
	starts, grams := make([]float64, p.slots), make([]float64, p.slots)
	m.held(level)
	for i := range p.bevs {
		for t, d := range p.bevs[i].demand {
			demand[t] += d
		}
		for _, l := range p.bevs[i].opening {
			if l.ready > 0 && l.ready < p.slots {
				return nil // a lot under way comes in by itself
			}
		}
	}
	m.active(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			t := s.slot + p.opts[s.opt].ready
			starts[t] += w
			grams[t] += w * s.g
		}
	})
	longest := min(longestCut, p.shortestHold()-1)
	var out []found
	for b := range level {
		best := found{kind: cutStore, over: 50}
		count, sum, room := 0.0, 0.0, 0.0
		for a := b; a > 0 && a > b-longest && count < 1.5; a-- {
			count += starts[a]
			sum += grams[a]
			room += demand[a] * count
			if over := level[a-1] + sum - room - p.store[a]; over > best.over {
				best.from, best.to, best.over = a, b, over
			}
		}
		if best.to > 0 && !m.has(best) {
			out = append(out, best)
		}
	}
	return out
}

// brokenIce finds, for each last slot, the ice cut that the mix breaks most.
func (m *master) brokenIce() []found {
	b := m.p.ice
	if b == nil || m.theta >= 0 {
		return nil
	}
	p := m.p
	var takes []mixed
	m.active(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			o := &p.opts[s.opt]
			if t := s.slot + o.iceSlots; t < p.slots && o.icePerG > 0 {
				takes = append(takes, mixed{slot: t, g: s.g * o.icePerG, weight: w})
			}
		}
	})
	most := 0.0
	for k := range p.opts {
		most = max(most, p.opts[k].max*p.opts[k].icePerG)
	}
	var out []found
	for n, s := range m.spans {
		f := found{kind: cutIce, from: s.to, to: s.to}
		for makes := b.make[s.to]; f.from > 0 && makes < most && f.from > s.to-longestCut; f.from-- {
			makes += b.make[f.from-1]
		}
		f.over = 1000*m.lp.value(3*n) - b.capacity
		makes := 0.0
		for t := s.to; t >= f.from; t-- {
			makes += b.make[t]
			for _, take := range takes {
				if take.slot == t {
					f.over += take.weight * max(0, take.g-makes)
				}
			}
		}
		if f.over > 50 && !m.has(f) {
			out = append(out, f)
		}
	}
	return out
}

func (m *master) has(f found) bool {
	n, known := m.pool.seen[[3]int{int(f.kind), f.from, f.to}]
	if !known {
		return false
	}
	_, known = m.seen[shared{kind: rowCut, of: n}]
	return known
}

// active calls f for every plan in the mix beside the idle ones.
func (m *master) active(f func(pl *plan, w float64)) {
	for j, pl := range m.cols {
		if pl != nil {
			if w := m.lp.value(j); w > 1e-9 {
				f(pl, w)
			}
		}
	}
}

// held sets level to what the mix holds at the end of each slot.
func (m *master) held(level []float64) {
	clear(level)
	for _, b := range m.base {
		for t, g := range b.level {
			level[t] += g
		}
	}
	m.active(func(pl *plan, w float64) {
		for t, g := range pl.level {
			level[t] += w * (g - m.base[pl.bev].level[t])
		}
	})
}

// addCut adds the row of a cut.
func (m *master) addCut(number int) {
	k := &m.pool.cuts[number]
	key := shared{kind: rowCut, of: number}
	rhs := k.rhs
	for _, b := range m.base {
		rhs -= k.of(m.p, b)
	}
	m.row(key, rhs/1000, m.elastic)
}

// cutIceCoef is what column j of the bin adds to a cut.
func (m *master) cutIceCoef(k *cut, j int) float64 {
	if k.kind == cutIce && j%3 == 0 && j < 3*len(m.spans) && m.spans[j/3].to == k.to {
		return 1
	}
	return 0
}
