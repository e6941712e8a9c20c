package batch

import (
	"maps"
	"math"
	"slices"
)

// master is the restricted master problem of column generation (Dantzig & Wolfe, Operations Research 8 (1960)): a convex
// combination of plans for each beverage, one column each, within the shared constraints. Its duals are the prices at which new
// plans are generated. Shared constraints become rows once they are violated, except those of the bin, which are all there.
// Masses are in kg, for scaling.
type master struct {
	p    *problem
	lp   program
	idle []*plan // idle plan of each beverage; columns are differences from it
	cols []*plan // by column of lp; nil for others
	rows []rowKey
	seen map[rowKey]int
	pool *cutPool

	theta   int // column of the cost of ice shortage, -1 if the bin is modelled by rows
	benders []bendersCut
	spans   []iceSpan // of the rows of the bin

	penalty       float64 // initial penalty for violating a row
	branchPenalty float64 // the same for branching constraints
}

// rowKey identifies the constraint of a row.
type rowKey struct {
	kind rowKind
	of   int // brewer, or beverage
	slot int
}

type rowKind uint8

const (
	rowConvexity rowKind = iota
	rowBrewer
	rowPeople
	rowStore
	rowIce
	rowAtMost // starts up to a slot
	rowAtLeast
	rowCut
	rowBenders
)

func newMaster(p *problem, pool *cutPool) *master {
	m := &master{p: p, pool: pool, seen: map[rowKey]int{}, theta: -1}
	for i := range p.bevs {
		m.idle = append(m.idle, p.planOf(i, nil))
		for _, k := range p.bevs[i].opts {
			m.penalty = max(m.penalty, p.bevs[i].short*p.opts[k].max)
		}
	}
	m.penalty = 2*m.penalty + 1
	for k := range p.opts {
		m.branchPenalty += 2 * p.opts[k].fixed / float64(len(p.opts))
	}
	m.branchPenalty += 0.01 * m.penalty
	if p.ice != nil {
		if spans := p.iceSpans(); len(spans) <= maxSpanRows {
			m.iceRows(spans)
		} else {
			m.addTheta()
		}
	}
	for i := range p.bevs {
		m.row(rowKey{kind: rowConvexity, of: i}, 1, math.Inf(1))
	}
	return m
}

// iceRows adds the balance of the bin by span: columns 3n, 3n+1 and 3n+2 are the level at the end of span n, the ice made and the
// shortage in it. Slots without possible use of ice are merged with the next, as ice is best made late: only the end of the span
// matters.
func (m *master) iceRows(spans []iceSpan) {
	b := m.p.ice
	m.spans = spans
	for _, s := range spans {
		m.lp.addColumn(column{upper: b.capacity / 1000})
		m.lp.addColumn(column{upper: s.make / 1000})
		j := m.lp.addColumn(column{cost: 1000 * b.short, upper: b.serve[s.to] / 1000})
		m.lp.atUpper[j] = b.serve[s.to] > 0
	}
	m.padCols()
	for n, s := range spans {
		rhs := -(b.serve[s.to] + b.fixedAt(s.to)) / 1000
		if n == 0 {
			rhs += s.keep * b.opening / 1000
		}
		key := rowKey{kind: rowIce, slot: s.to}
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
		m.padCols()
		m.rows = append(m.rows, key)
		m.seen[key] = r
	}
}

// iceSpan is a run of slots in which ice can be used only in the last.
type iceSpan struct {
	from, to int
	make     float64 // production, less melting until the end
	keep     float64 // share of the opening level that does not melt
}

func (p *problem) iceSpans() []iceSpan {
	b := p.ice
	asked := make([]bool, p.slots)
	for t := range asked {
		asked[t] = b.serve[t] > 0 || b.fixedAt(t) > 0
	}
	for k := range p.opts {
		o := &p.opts[k]
		for t, may := range o.canStart {
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

// padCols pads cols to the length of the program's columns.
func (m *master) padCols() {
	for len(m.cols) < len(m.lp.cols) {
		m.cols = append(m.cols, nil)
	}
}

// row adds the constraint key ≤ rhs to the program.
func (m *master) row(key rowKey, rhs, elastic float64) {
	r := m.lp.addRow(func(j int) float64 {
		if pl := m.cols[j]; pl != nil {
			return m.coef(pl, key)
		}
		switch {
		case key.kind == rowCut && m.theta < 0:
			return m.cutIceCoef(&m.pool.cuts[key.of], j)
		case key.kind == rowBenders && j == m.theta && !m.benders[key.of].feasibility:
			return -1
		}
		return 0
	}, rhs, math.Inf(1), elastic)
	m.padCols()
	m.rows = append(m.rows, key)
	m.seen[key] = r
}

// coef is the coefficient of plan pl in the row: its difference from doing nothing.
func (m *master) coef(pl *plan, key rowKey) float64 {
	sum := 0.0
	switch key.kind {
	case rowConvexity:
		if key.of == pl.bev {
			return 1
		}
	case rowStore:
		return (pl.level[key.slot] - m.idle[pl.bev].level[key.slot]) / 1000
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
	case rowBenders:
		return m.bendersCoef(&m.benders[key.of], pl)
	case rowCut:
		k := &m.pool.cuts[key.of]
		return (k.lhs(m.p, pl) - k.lhs(m.p, m.idle[pl.bev])) / 1000
	case rowAtMost, rowAtLeast:
		for _, s := range pl.starts {
			if s.slot <= key.slot && m.counts(s.opt, key) {
				sum++
			}
		}
		if key.kind == rowAtLeast {
			return -sum
		}
	}
	return sum
}

// add adds a plan as a column.
func (m *master) add(pl *plan) {
	c := column{cost: pl.cost - m.idle[pl.bev].cost, upper: math.Inf(1)}
	for r, key := range m.rows {
		if a := m.coef(pl, key); a != 0 {
			c.row, c.val = append(c.row, int32(r)), append(c.val, a)
		}
	}
	m.lp.addColumn(c)
	m.cols = append(m.cols, pl)
}

// addViolated adds rows for violated constraints and returns their number.
func (m *master) addViolated() int {
	p := m.p
	store, people, busy := make([]float64, p.slots), make([]float64, p.slots), table(p.brewer, p.slots)
	m.stock(store)
	m.eachActive(func(pl *plan, w float64) {
		for _, s := range pl.starts {
			o := &p.opts[s.opt]
			people[s.slot] += w
			for k := s.slot; k < s.slot+o.busy; k++ {
				busy[o.brewer][k] += w
			}
		}
	})
	n := m.addBendersCuts()
	for b := range busy {
		for t, v := range busy[b] {
			n += m.addIfViolated(rowKey{rowBrewer, b, t}, v, 1, 1e-6, 1)
		}
	}
	for t := range people {
		n += m.addIfViolated(rowKey{rowPeople, 0, t}, people[t], float64(p.people[t]), 1e-6, 1)
		n += m.addIfViolated(rowKey{rowStore, 0, t}, store[t], p.store[t], 1e-3, 1000)
	}
	return n
}

func (m *master) addIfViolated(key rowKey, used, limit, tol, unit float64) int {
	if used <= limit+tol {
		return 0
	}
	if _, known := m.seen[key]; known {
		return 0
	}
	if key.kind == rowStore {
		for _, b := range m.idle {
			limit -= b.level[key.slot]
		}
	}
	m.row(key, limit/unit, m.penalty)
	return 1
}

// solve optimises the master problem and adds violated rows until there are none.
func (m *master) solve(pivots int) {
	for {
		if !m.lp.solve(pivots) {
			return
		}
		if m.addViolated() == 0 {
			return
		}
	}
}

// prices sets q to the dual values of the rows.
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
		case rowBenders:
			g := &m.benders[key.of]
			if g.feasibility {
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
			q.constant -= v * m.lp.rhs[r]
			if key.kind == rowAtLeast {
				v = -v
			}
			for k := range m.p.opts {
				if !m.counts(k, key) {
					continue
				}
				for t := range q.start[k][:key.slot+1] {
					q.start[k][t] += v
				}
			}
		}
	}
}

// objective is the cost of the master solution.
func (m *master) objective() float64 {
	c := m.lp.objective()
	for _, b := range m.idle {
		c += b.cost
	}
	return c
}

// clone is an independent copy.
func (m *master) clone() *master {
	out := *m
	out.lp = m.lp.clone()
	out.cols, out.rows = slices.Clone(m.cols), slices.Clone(m.rows)
	out.seen, out.benders = maps.Clone(m.seen), slices.Clone(m.benders)
	return &out
}

// counts reports whether a start of option k counts for a branching constraint.
func (m *master) counts(k int, key rowKey) bool {
	if n := len(m.p.bevs); key.of >= n {
		return key.of-n == k
	}
	return m.p.opts[k].bev == key.of
}

// startCounts is the number of starts in the master solution up to each slot, by beverage and then by option.
func (m *master) startCounts() [][]float64 {
	bevs := len(m.idle)
	n := table(bevs+len(m.p.opts), m.p.slots)
	m.eachActive(func(pl *plan, w float64) {
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

// roundedStarts combines the plans with the largest weight for each beverage: a rounding of the master solution.
func (m *master) roundedStarts() []batchStart {
	best, weight := make([]*plan, len(m.idle)), make([]float64, len(m.idle))
	idle := make([]float64, len(m.idle))
	for i := range idle {
		idle[i] = 1
	}
	m.eachActive(func(pl *plan, w float64) {
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

// dropColumns drops columns with a reduced cost above worth.
func (m *master) dropColumns(worth float64) {
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
