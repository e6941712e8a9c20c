package batch

import (
	"maps"
	"math"
	"slices"
)

// master is the Lagrangian dual seen from the other side: each beverage mixes plans of its own (one column each), and the
// mix must fit what beverages share. Its duals are the prices at which new plans are sought (Dantzig & Wolfe, Operations
// Research 8 (1960)). Rows of what is shared enter when a mix breaks them; ice has all its rows, and grams are counted in
// kilograms to keep the figures of one size.
type master struct {
	p    *problem
	lp   program
	base []*plan // what each beverage does when it does nothing: the mix is what differs from it
	cols []*plan // by column of lp; nil for others
	rows []shared
	seen map[rowKey]int
	pool *cutPool

	theta    int // column of what the bin's shortage costs, -1 where every slot has its row
	tangents []tangent
	spans    []iceSpan // of the rows of the bin

	elastic float64 // what breaking a limit costs at first
	soft    float64 // the same, of a limit on a beverage's own starts
}

// shared says which limit a row of lp is.
type shared struct {
	kind rowKind
	of   int // brewer, or beverage
	slot int
}

type rowKey = shared

type rowKind uint8

const (
	rowMix rowKind = iota
	rowBrewer
	rowPeople
	rowStore
	rowIce
	rowAtMost // starts of a beverage until a slot
	rowAtLeast
	rowCut
	rowTangent
)

func newMaster(p *problem, pool *cutPool) *master {
	m := &master{p: p, pool: pool, seen: map[rowKey]int{}, theta: -1}
	for i := range p.bevs {
		m.base = append(m.base, p.planOf(i, nil))
		for _, k := range p.bevs[i].opts {
			m.elastic = max(m.elastic, p.bevs[i].short*p.opts[k].max)
		}
	}
	m.elastic = 2*m.elastic + 1
	for k := range p.opts {
		m.soft += 2 * p.opts[k].fixed / float64(len(p.opts))
	}
	m.soft += 0.01 * m.elastic
	if p.ice != nil {
		if spans := p.iceSpans(); len(spans) <= manySpans {
			m.iceRows(spans)
		} else {
			m.iceColumns()
		}
	}
	for i := range p.bevs {
		m.row(shared{kind: rowMix, of: i}, 1, math.Inf(1))
	}
	return m
}

// iceRows gives the master the bin: columns 3n, 3n+1 and 3n+2 are the level at the end of span n, what is made and what is
// short in it. Slots in which nobody can ask for ice make one span with the next: makers can make up to its end what
// melts least, so that only the end matters.
func (m *master) iceRows(spans []iceSpan) {
	b := m.p.ice
	m.spans = spans
	for _, s := range spans {
		m.lp.addColumn(column{upper: b.capacity / 1000})
		m.lp.addColumn(column{upper: s.make / 1000})
		j := m.lp.addColumn(column{cost: 1000 * b.short, upper: b.serve[s.to] / 1000})
		m.lp.atUpper[j] = b.serve[s.to] > 0
	}
	m.grown()
	for n, s := range spans {
		rhs := -(b.serve[s.to] + b.before(s.to)) / 1000
		if n == 0 {
			rhs += s.keep * b.opening / 1000
		}
		key := shared{kind: rowIce, slot: s.to}
		r := m.lp.addRow(func(j int) float64 {
			switch j {
			case 3 * n:
				return 1
			case 3*n + 1, 3*n + 2:
				return -1
			case 3*n - 3:
				return -s.keep
			}
			return 0
		}, rhs, math.Inf(1), math.Inf(1))
		m.grown()
		m.rows = append(m.rows, key)
		m.seen[key] = r
	}
}

// iceSpan is a run of slots of which only the last may ask for ice.
type iceSpan struct {
	from, to int
	make     float64 // what can be made of it that is there at the end
	keep     float64 // what its melting leaves
}

func (p *problem) iceSpans() []iceSpan {
	b := p.ice
	asked := make([]bool, p.slots)
	for t := range asked {
		asked[t] = b.serve[t] > 0 || b.before(t) > 0
	}
	for k := range p.opts {
		o := &p.opts[k]
		for t, may := range o.may {
			if s := t + o.iceSlots; may && o.icePerG > 0 && s < p.slots {
				asked[s] = true
			}
		}
	}
	var spans []iceSpan
	s := iceSpan{keep: 1}
	for t := 0; t < p.slots; t++ {
		s.keep *= b.keep
		s.make = s.make*b.keep + b.make[t]
		if asked[t] || t == p.slots-1 || asked[t+1] {
			s.to = t
			spans = append(spans, s)
			s = iceSpan{from: t + 1, keep: 1}
		}
	}
	return spans
}

// grown keeps cols as long as lp's.
func (m *master) grown() {
	for len(m.cols) < len(m.lp.cols) {
		m.cols = append(m.cols, nil)
	}
}

// row adds the limit key ≤ rhs to the program.
func (m *master) row(key shared, rhs, elastic float64) {
	r := m.lp.addRow(func(j int) float64 {
		if pl := m.cols[j]; pl != nil {
			return m.coef(pl, key)
		}
		switch {
		case key.kind == rowCut && m.theta < 0:
			return m.cutIceCoef(&m.pool.cuts[key.of], j)
		case key.kind == rowTangent && j == m.theta && !m.tangents[key.of].owed:
			return -1
		}
		return 0
	}, rhs, math.Inf(1), elastic)
	m.grown()
	m.rows = append(m.rows, key)
	m.seen[key] = r
}

// coef is what plan pl adds to the row beyond doing nothing.
func (m *master) coef(pl *plan, key shared) float64 {
	sum := 0.0
	switch key.kind {
	case rowMix:
		if key.of == pl.bev {
			return 1
		}
	case rowStore:
		return (pl.level[key.slot] - m.base[pl.bev].level[key.slot]) / 1000
	case rowBrewer:
		for _, s := range pl.starts {
			if o := &m.p.opts[s.opt]; o.brewer == key.of && s.slot <= key.slot && key.slot < s.slot+o.busy {
				sum++
			}
		}
	case rowPeople:
		for _, s := range pl.starts {
			if s.slot == key.slot {
				sum++
			}
		}
	case rowIce:
		for _, s := range pl.starts {
			if o := &m.p.opts[s.opt]; s.slot+o.iceSlots == key.slot {
				sum += s.g * o.icePerG / 1000
			}
		}
	case rowTangent:
		return m.tangentCoef(&m.tangents[key.of], pl)
	case rowCut:
		k := &m.pool.cuts[key.of]
		return (k.of(m.p, pl) - k.of(m.p, m.base[pl.bev])) / 1000
	case rowAtMost, rowAtLeast:
		for _, s := range pl.starts {
			if s.slot <= key.slot && m.counted(s.opt, key) {
				sum++
			}
		}
		if key.kind == rowAtLeast {
			return -sum
		}
	}
	return sum
}

// add takes a plan into the mix.
func (m *master) add(pl *plan) {
	c := column{cost: pl.cost - m.base[pl.bev].cost, upper: math.Inf(1)}
	for r, key := range m.rows {
		if a := m.coef(pl, key); a != 0 {
			c.row, c.val = append(c.row, int32(r)), append(c.val, a)
		}
	}
	m.lp.addColumn(c)
	m.cols = append(m.cols, pl)
}

// tighten adds the rows that the mix breaks and says how many.
func (m *master) tighten() int {
	p := m.p
	store, people, busy := make([]float64, p.slots), make([]float64, p.slots), table(p.brewer, p.slots)
	m.held(store)
	m.active(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			o := &p.opts[s.opt]
			people[s.slot] += w
			for k := s.slot; k < s.slot+o.busy; k++ {
				busy[o.brewer][k] += w
			}
		}
	})
	n := m.touch()
	for b := range busy {
		for t, v := range busy[b] {
			n += m.limit(shared{rowBrewer, b, t}, v, 1, 1e-6, 1)
		}
	}
	for t := range people {
		n += m.limit(shared{rowPeople, 0, t}, people[t], float64(p.people[t]), 1e-6, 1)
		n += m.limit(shared{rowStore, 0, t}, store[t], p.store[t], 1e-3, 1000)
	}
	return n
}

func (m *master) limit(key shared, used, limit, tol, unit float64) int {
	if used <= limit+tol {
		return 0
	}
	if _, known := m.seen[key]; known {
		return 0
	}
	if key.kind == rowStore {
		for _, b := range m.base {
			limit -= b.level[key.slot]
		}
	}
	m.row(key, limit/unit, m.elastic)
	return 1
}

// solve finds the best mix, rows added as they are needed.
func (m *master) solve(pivots int) {
	for {
		if !m.lp.solve(pivots) {
			return
		}
		if m.tighten() == 0 {
			return
		}
	}
}

// prices sets q to the duals.
func (m *master) prices(q *prices) {
	q.clear()
	y := m.lp.duals()
	for r, key := range m.rows {
		v := max(0, -y[r])
		switch key.kind {
		case rowBrewer:
			q.brewer[key.of][key.slot] = v
		case rowPeople:
			q.people[key.slot] = v
		case rowStore:
			q.store[key.slot] = v / 1000
		case rowIce:
			q.ice[key.slot] = v / 1000
			for t := key.slot - 1; t >= m.spans[r].from; t-- {
				q.ice[t] = q.ice[t+1] * m.p.ice.keep
			}
		case rowTangent:
			g := &m.tangents[key.of]
			if g.owed {
				v /= 1000
			}
			for t, price := range g.price {
				q.ice[t] += v * price
			}
		case rowCut:
			for len(q.cut) <= key.of {
				q.cut = append(q.cut, 0)
			}
			q.cut[key.of] = v / 1000
		case rowAtMost, rowAtLeast:
			q.rest -= v * m.lp.rhs[r]
			if key.kind == rowAtLeast {
				v = -v
			}
			for k := range m.p.opts {
				if !m.counted(k, key) {
					continue
				}
				for t := range q.start[k][:key.slot+1] {
					q.start[k][t] += v
				}
			}
		}
	}
}

// objective is what the mix costs.
func (m *master) objective() float64 {
	c := m.lp.objective()
	for _, b := range m.base {
		c += b.cost
	}
	return c
}

// clone is a copy that may grow on its own.
func (m *master) clone() *master {
	out := *m
	out.lp = m.lp.clone()
	out.cols, out.rows = slices.Clone(m.cols), slices.Clone(m.rows)
	out.seen, out.tangents = maps.Clone(m.seen), slices.Clone(m.tangents)
	return &out
}

// counted says whether a start of option k counts for a limit on starts.
func (m *master) counted(k int, key shared) bool {
	if n := len(m.p.bevs); key.of >= n {
		return key.of-n == k
	}
	return m.p.opts[k].bev == key.of
}

// counts is, for each beverage and then each option, how many starts the mix has until each slot.
func (m *master) counts() [][]float64 {
	bevs := len(m.base)
	n := table(bevs+len(m.p.opts), m.p.slots)
	m.active(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			n[pl.bev][s.slot] += w
			n[bevs+s.opt][s.slot] += w
		}
	})
	for i := range n {
		for t := 1; t < m.p.slots; t++ {
			n[i][t] += n[i][t-1]
		}
	}
	return n
}

// heaviest is the plan that weighs most of each beverage, put together.
func (m *master) heaviest() []batchStart {
	best, weight := make([]*plan, len(m.base)), make([]float64, len(m.base))
	idle := make([]float64, len(m.base))
	for i := range idle {
		idle[i] = 1
	}
	m.active(func(pl *plan, w float64) {
		idle[pl.bev] -= w
		if w > weight[pl.bev] {
			best[pl.bev], weight[pl.bev] = pl, w
		}
	})
	var starts []batchStart
	for i, pl := range best {
		if pl != nil && weight[i] >= idle[i] {
			starts = append(starts, pl.starts...)
		}
	}
	return starts
}

// forget drops plans that the mix would take only if the cost rose by more than worth.
func (m *master) forget(worth float64) {
	m.lp.duals()
	to := m.lp.drop(func(j int) bool { return m.cols[j] == nil || m.lp.gain(j) > -worth })
	n := 0
	for j, at := range to {
		if at >= 0 {
			m.cols[at] = m.cols[j]
			n++
		}
	}
	m.cols = m.cols[:n]
	if m.theta >= 0 {
		m.theta = to[m.theta]
	}
}
