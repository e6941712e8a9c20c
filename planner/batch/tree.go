package batch

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// node is a node of the branch and bound tree: the plans that meet the branching constraints in its master problem.
type node struct {
	m      *master
	centre *prices // stability centre: prices of the best bound so far
	bound  float64
	closed bool // the bound equals the cost of the master solution
}

// generateColumns raises the node's bound by column generation with dual smoothing: plans are priced between the stability
// centre and the duals of the master (Wentges, International Transactions in Operational Research 4 (1997)). each, unless nil,
// is called with the prices of every iteration.
func (s *solver) generateColumns(ctx context.Context, n *node, its, limit int, each func(at *prices)) {
	p := s.p
	q, at := newPrices(p), newPrices(p)
	weight := 0.5 // weight of the master's duals
	for it := 0; it < its && ctx.Err() == nil && s.work() < limit && !s.closes(n.bound); it++ {
		before := n.m.lp.pivots
		n.m.solve(2000)
		if z := n.m.objective(); z-n.bound < 0.02*math.Max(1, math.Abs(z)) {
			if n.m.separate() > 0 {
				n.m.solve(2000)
			}
			s.spent += 100
		}
		s.spent += n.m.pivotWork(before)
		n.m.prices(q)
		z := n.m.objective()
		if z < n.bound-1e-3*math.Max(1, math.Abs(n.bound)) && !n.m.lp.withinBounds() { // gone wrong by rounding
			n.m.lp.refactor()
			if n.m.solve(2000); n.m.objective() < n.bound-1e-3*math.Max(1, math.Abs(n.bound)) {
				break
			}
			n.m.prices(q)
			z = n.m.objective()
		}
		if z-n.bound < 1e-4*math.Max(1, math.Abs(z)) {
			if n.closed = !n.m.raisePenalties(); n.closed {
				break
			}
		}
		at.set(q)
		if n.centre == nil {
			n.centre = newPrices(p)
			n.centre.set(q)
		} else {
			at.blend(weight, n.centre)
		}
		outer, useful := z, false // cost, at the master's duals, of the plans found
		v := s.dual.value(at, func(pl *plan) {
			n.m.add(pl)
			g := n.m.lp.gain(len(n.m.lp.cols) - 1)
			outer -= g
			useful = useful || g > 1e-6
		})
		if p.ice != nil {
			outer += s.dual.iceAt(at, q) - s.dual.iceValue(q)
		}
		switch {
		case v > n.bound || it == 0:
			n.bound = max(n.bound, v)
			n.centre.set(at)
		case !useful:
			weight = (1 + 2*weight) / 3
		}
		if useful {
			if outer > v { // the bound still rises towards the master's duals
				weight = 1 - 0.8*(1-weight)
			} else {
				weight = max(0.05, 0.8*weight)
			}
		}
		if each != nil {
			each(at)
		}
	}
}

// closes reports whether the bound closes the gap to the incumbent, within 0.05 %.
func (s *solver) closes(bound float64) bool {
	return s.cost-bound <= 0.0005*math.Max(1, math.Abs(s.cost))
}

// tree is the branch and bound tree.
type tree struct {
	open  []*node
	stuck bool // the node with the lowest bound cannot be branched
}

// branchAndBound branches the node with the lowest bound (best first) on a fractional number of starts up to some slot, and
// raises the bounds of both children. The lowest bound is the global one.
func (s *solver) branchAndBound(ctx context.Context, all *tree, limit int) {
	all.stuck = all.stuck || len(s.p.opts)*s.p.slots > maxBranchStarts
	for !all.stuck && ctx.Err() == nil && s.work() < limit && !s.done() {
		open := all.open
		w := 0
		for k, n := range open {
			if n.bound < open[w].bound {
				w = k
			}
		}
		n := open[w]
		s.bound = max(s.bound, n.bound)
		if s.done() {
			return
		}
		s.spent++
		if !n.closed {
			s.generateColumns(ctx, n, 4, limit, nil)
			continue
		}
		n.m.dropColumns(s.cost - n.bound)
		part := s.chooseBranch(n)
		if part == nil {
			s.tryStarts(s.settle(n.m.roundedStarts()))
			all.stuck = true
			return
		}
		all.open = append(open[:w], open[w+1:]...)
		for side := 0; side < 2; side++ {
			c := &node{m: n.m, centre: newPrices(s.p), bound: n.bound}
			if side == 0 {
				c.m = n.m.clone()
			}
			c.centre.set(n.centre)
			c.m.branch(part.of, part.slot, part.count, side == 0)
			s.spent += 30 + len(c.m.lp.cols)
			s.generateColumns(ctx, c, 4, limit, nil)
			if s.work() < limit {
				s.tryStarts(s.settle(c.m.roundedStarts()))
				if side == 1 {
					s.construct(c.centre, nil, 3)
				}
			}
			all.open = append(all.open, c)
		}
	}
}

// branching is a branching decision: at most count starts up to the slot, or at least one more. of is the index of a beverage
// or, from the number of beverages on, of an option.
type branching struct {
	of, slot int
	count    float64
	score    float64
}

// chooseBranch chooses the branching by strong branching on the most fractional counts: the one that raises the master's cost most in
// the child with the smaller increase, with the present columns. nil if no count is fractional.
func (s *solver) chooseBranch(n *node) *branching {
	var cands []branching
	for i, counts := range n.m.startCounts() {
		if i == len(s.p.bevs) && len(cands) > 0 {
			break // branch on options only once the counts of beverages are integer
		}
		cands = append(cands, fractional(i, counts)...)
	}
	if len(cands) < 2 {
		if len(cands) == 0 {
			return nil
		}
		return &cands[0]
	}
	n.m.lp.duals()
	for k := range cands {
		down, up := n.m.penalties(&cands[k])
		cands[k].score = min(down, up) + 0.1*max(down, up)
	}
	s.spent += 10 * len(cands)
	slices.SortStableFunc(cands, func(a, b branching) int { return cmp.Compare(b.score, a.score) })
	cands = cands[:min(len(cands), strongCandidates)]
	z := n.m.lp.objective()
	best := -1
	for k := range cands {
		c := &cands[k]
		rise := [2]float64{}
		for side := range rise {
			m := n.m.clone()
			m.branch(c.of, c.slot, c.count, side == 0)
			before := m.lp.pivots
			m.lp.sinceRefactor = -100
			m.lp.solve(strongPivots)
			s.spent += 50 + len(m.lp.rhs)*len(m.lp.rhs)/500 + m.pivotWork(before)
			rise[side] = m.lp.objective() - z
		}
		c.score = min(rise[0], rise[1]) + 0.1*max(rise[0], rise[1])
		if best < 0 || c.score > cands[best].score {
			best = k
		}
	}
	return &cands[best]
}

// penalties are lower bounds on the rise of the master's cost in the two children, by one step of the dual simplex method
// (Driebeek, Management Science 12 (1966)). The duals must be up to date.
func (m *master) penalties(c *branching) (down, up float64) {
	key := rowKey{rowAtMost, c.of, c.slot}
	l := &m.lp
	n := len(l.rhs)
	w := make([]float64, n) // the branching row in terms of the basis
	active := 0.0
	for r, j := range l.basis {
		if pl := m.cols[j]; pl != nil {
			if a := m.coef(pl, key); a != 0 {
				active += a * l.x[r]
				for k, v := range l.inv[r*l.stride : r*l.stride+n] {
					w[k] += a * v
				}
			}
		}
	}
	fewer, more := math.Inf(1), math.Inf(1)
	for j := range l.cols {
		if l.rowOf[j] >= 0 || l.cols[j].upper == 0 {
			continue
		}
		alpha := 0.0
		if pl := m.cols[j]; pl != nil {
			alpha = m.coef(pl, key)
		}
		for i, r := range l.cols[j].row {
			alpha -= w[r] * l.cols[j].val[i]
		}
		if l.atUpper[j] {
			alpha = -alpha
		}
		switch cost := max(0, -l.gain(j)); {
		case alpha < -1e-7:
			fewer = min(fewer, cost/-alpha)
		case alpha > 1e-7:
			more = min(more, cost/alpha)
		}
	}
	return min(m.penalty, fewer*max(0, active-c.count)), min(m.penalty, more*max(0, c.count+1-active))
}

// strongCandidates is the number of candidates for strong branching.
const strongCandidates = 3

// fractional are candidates for branching: up to three slots, not close to one another, at which the count is most fractional.
func fractional(of int, counts []float64) []branching {
	var out []branching
	taken := make([]bool, len(counts))
	for len(out) < 3 {
		best, at := 0.01, -1
		for t, v := range counts {
			if f := v - math.Floor(v); !taken[t] && min(f, 1-f) > best {
				best, at = min(f, 1-f), t
			}
		}
		if at < 0 {
			break
		}
		out = append(out, branching{of: of, slot: at, count: math.Floor(counts[at])})
		for t := max(0, at-4); t < min(len(counts), at+5); t++ {
			taken[t] = true
		}
	}
	return out
}

// strongPivots is the number of pivots per child in strong branching.
const strongPivots = 15

// pivotWork is the work of the pivots since before.
func (m *master) pivotWork(before int) int {
	return (m.lp.pivots - before) * (2 + len(m.lp.rhs)*len(m.lp.rhs)/2000 + len(m.lp.cols)/200)
}

// branch adds a branching constraint: at most count starts up to the slot or, if most is false, at least count + 1.
func (m *master) branch(of, slot int, count float64, most bool) {
	key, rhs := rowKey{rowAtMost, of, slot}, count
	if !most {
		key, rhs = rowKey{rowAtLeast, of, slot}, -count-1
	}
	m.row(key, rhs, m.branchPenalty)
}

// raisePenalties raises the penalties of violated rows and reports whether there were any.
func (m *master) raisePenalties() bool {
	found := false
	for j := range m.lp.cols {
		if c := &m.lp.cols[j]; m.cols[j] == nil && j != m.theta && c.cost > 0 && math.IsInf(c.upper, 1) && c.cost < 1e3*m.penalty && m.lp.value(j) > 1e-6 {
			c.cost *= 4
			found = true
		}
	}
	return found
}
