package batch

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// node is a part of all plans: those that keep the limits of its master's rows on how many batches of a beverage are
// started until some slot.
type node struct {
	m      *master
	centre *prices
	bound  float64
	closed bool // its bound is what its mix costs
}

// raise raises the node's bound by column generation: plans are sought at prices between the best so far and those of the
// mix (Wentges, International Transactions in Operational Research 4 (1997)).
func (s *solver) raise(ctx context.Context, n *node, its, limit int, each func(at *prices)) {
	p := s.p
	q, at := newPrices(p), newPrices(p)
	pull, last := 0.5, math.Inf(1) // how near the mix's prices plans are sought
	for it := 0; it < its && ctx.Err() == nil && s.work() < limit && !s.near(n.bound); it++ {
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
		if z-n.bound < 1e-4*math.Max(1, math.Abs(z)) {
			if n.closed = !n.m.stretched(); n.closed {
				break
			}
		}
		at.set(q)
		if n.centre == nil {
			n.centre = newPrices(p)
			n.centre.set(q)
		} else {
			if z < last-1e-9*math.Abs(last) {
				pull = 0.5
			}
			at.blend(pull, n.centre)
		}
		last = z
		if v := s.dual.value(at, n.m.add); v > n.bound || it == 0 {
			n.bound = max(n.bound, v)
			n.centre.set(at)
		} else { // plans that help neither bound nor mix call for prices nearer the mix's
			pull = (1 + 2*pull) / 3
		}
		if each != nil {
			each(at)
		}
	}
}

// near says whether a bound is as good as the plan.
func (s *solver) near(bound float64) bool {
	return s.cost-bound <= 0.0005*math.Max(1, math.Abs(s.cost))
}

// tree is what is left of all plans, in parts.
type tree struct {
	open  []*node
	stuck bool // the weakest part cannot be parted
}

// search parts the plans where the mix of the weakest part starts a broken number of batches until some slot, and raises
// the bounds of both parts. The bound of all is that of the weakest part.
func (s *solver) search(ctx context.Context, all *tree, limit int) {
	all.stuck = all.stuck || len(s.p.opts)*s.p.slots > manyStarts
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
			s.raise(ctx, n, 4, limit, nil)
			continue
		}
		n.m.forget(s.cost - n.bound)
		part := s.split(n)
		if part == nil {
			s.offer(s.apart(n.m.heaviest()))
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
			c.m.limitStarts(part.of, part.slot, part.count, side == 0)
			s.spent += 30 + len(c.m.lp.cols)
			s.raise(ctx, c, 4, limit, nil)
			if s.work() < limit {
				s.offer(s.apart(c.m.heaviest()))
				if side == 1 {
					s.construct(c.centre, nil, 3)
				}
			}
			all.open = append(all.open, c)
		}
	}
}

// parting is a limit that parts plans: at most count starts until the slot, or more. They are of a beverage or, from the
// number of beverages on, of an option.
type parting struct {
	of, slot int
	count    float64
	score    float64
}

// split chooses where to part: of the most broken counts of each beverage the one that raises the mix's cost most on its
// lower side, as far as the plans known so far tell. It is nil where no count is broken.
func (s *solver) split(n *node) *parting {
	var cands []parting
	for i, counts := range n.m.counts() {
		if i == len(s.p.bevs) && len(cands) > 0 {
			break // which brewer only matters once it is settled when
		}
		cands = append(cands, broken(i, counts)...)
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
	slices.SortStableFunc(cands, func(a, b parting) int { return cmp.Compare(b.score, a.score) })
	cands = cands[:min(len(cands), splitTries)]
	z := n.m.lp.objective()
	best := -1
	for k := range cands {
		c := &cands[k]
		rise := [2]float64{}
		for side := range rise {
			m := n.m.clone()
			m.limitStarts(c.of, c.slot, c.count, side == 0)
			before := m.lp.pivots
			m.lp.fresh = -100
			m.lp.solve(splitPivots)
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

// penalties are what the mix's cost rises by at least when starts are limited to count, and to one more: one step of the
// dual simplex method (Driebeek, Management Science 12 (1966)). The duals must be fresh.
func (m *master) penalties(c *parting) (down, up float64) {
	key := shared{rowAtMost, c.of, c.slot}
	l := &m.lp
	n := len(l.rhs)
	w := make([]float64, n) // the limit's row in terms of the basis
	active := 0.0
	for r, j := range l.basis {
		if pl := m.cols[j]; pl != nil {
			if a := m.coef(pl, key); a != 0 {
				active += a * l.x[r]
				for k, v := range l.inv[r*l.wide : r*l.wide+n] {
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
	return min(m.elastic, fewer*max(0, active-c.count)), min(m.elastic, more*max(0, c.count+1-active))
}

// splitTries is the number of partings that are followed further than one step.
const splitTries = 3

// broken are the slots, at most three and apart, at which a beverage's count of starts is furthest from whole.
func broken(of int, counts []float64) []parting {
	var out []parting
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
		out = append(out, parting{of: of, slot: at, count: math.Floor(counts[at])})
		for t := max(0, at-4); t < min(len(counts), at+5); t++ {
			taken[t] = true
		}
	}
	return out
}

// splitPivots is how far a mix is followed to see what a limit would cost.
const splitPivots = 15

// pivotWork is what the pivots since before were worth.
func (m *master) pivotWork(before int) int {
	return (m.lp.pivots - before) * (2 + len(m.lp.rhs)*len(m.lp.rhs)/2000 + len(m.lp.cols)/200)
}

// limitStarts adds that at most count batches, or at least one more, start until the slot; of is that of a parting.
func (m *master) limitStarts(of, slot int, count float64, most bool) {
	key, rhs := shared{rowAtMost, of, slot}, count
	if !most {
		key, rhs = shared{rowAtLeast, of, slot}, -count-1
	}
	m.row(key, rhs, m.soft)
}

// stretched says whether the mix breaks a limit because breaking it is too cheap, and makes it dearer.
func (m *master) stretched() bool {
	found := false
	for j := range m.lp.cols {
		if c := &m.lp.cols[j]; m.cols[j] == nil && j != m.theta && c.cost > 0 && math.IsInf(c.upper, 1) && c.cost < 1e3*m.elastic && m.lp.value(j) > 1e-6 {
			c.cost *= 4
			found = true
		}
	}
	return found
}
