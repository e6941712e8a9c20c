package batch

import (
	"context"
	"math"
)

// ascend raises the bound of a node by a deflected subgradient method (Camerini, Fratta & Maffioli, Mathematical Programming Study 3
// (1975)) with Polyak's step towards the cost of the incumbent, up to the work limit or until it no longer helps. An iteration costs much
// less than one of column generation where the master has many rows, and gets near the best prices, though not to them. Plans found on
// the way become columns.
func (s *solver) ascend(ctx context.Context, n *node, limit int) {
	p := s.p
	at, best, dir, g := newPrices(p), newPrices(p), newPrices(p), newPrices(p)
	if n.centre != nil {
		at.set(n.centre)
	}
	best.set(at)
	ahead, since := 0.5*(s.cost-n.bound), 0
	var plans []*plan
	for it := 0; it < ascentMost && ctx.Err() == nil && s.work() < limit && !s.closes(n.bound); it++ {
		plans = plans[:0]
		v := s.dual.value(at, func(pl *plan) { plans = append(plans, pl) })
		s.spent += 5
		if v > n.bound {
			if v > n.bound+0.001*math.Abs(n.bound) {
				since = 0
			}
			n.bound = v
			best.set(at)
			for _, pl := range plans {
				n.m.add(pl)
			}
		}
		if since++; since%6 == 0 {
			if since >= 60 {
				break
			}
			ahead /= 1.5
			at.set(best)
			dir.clear()
			continue
		}
		s.violation(at, plans, g)
		// Deflection: the component of the last direction that opposes the subgradient is removed.
		dd, gd, gg := 0.0, 0.0, 0.0
		dir.each(g, func(d, g []float64) {
			for t := range d {
				dd, gd, gg = dd+d[t]*d[t], gd+d[t]*g[t], gg+g[t]*g[t]
			}
		})
		keep := 0.3
		if gd < 0 && dd > 0 {
			keep = min(1.5, -1.5*gd/dd)
		}
		norm := 0.0
		dir.each(g, func(d, g []float64) {
			for t := range d {
				d[t] = g[t] + keep*d[t]
				norm += d[t] * d[t]
			}
		})
		if norm < 1e-12 {
			break
		}
		length := (n.bound + ahead - v) / norm
		s.moveAlong(at, dir, length)
	}
	if n.centre == nil {
		n.centre = newPrices(p)
	}
	n.centre.set(best)
}

// ascentMost is the largest number of iterations of ascend.
const ascentMost = 200

// moveAlong moves the prices along the direction, in which each capacity counts in its own unit, to prices ≥ 0.
func (s *solver) moveAlong(at, dir *prices, length float64) {
	s.inUnits(at, dir, func(q, d []float64, unit func(t int) float64) {
		for t := range q {
			q[t] = max(0, q[t]+length*d[t]/unit(t))
		}
	})
}

// inUnits calls do for each capacity with its part of two lists and the unit in which violations of it are counted.
func (s *solver) inUnits(a, b *prices, do func(a, b []float64, unit func(t int) float64)) {
	one := func(int) float64 { return 1 }
	for w := range a.brewer {
		do(a.brewer[w], b.brewer[w], one)
	}
	do(a.people, b.people, one)
	do(a.store, b.store, s.storeUnit)
	if s.p.ice != nil {
		do(a.ice, b.ice, s.iceUnit)
	}
}

// storeUnit and iceUnit are the units, g, in which violations of the store and the bin compare with those of a brewer by one batch.
func (s *solver) storeUnit(t int) float64 { return max(1000, s.p.store[t]) }
func (s *solver) iceUnit(int) float64     { return max(1000, s.p.ice.capacity/4) }

// violation sets g to the subgradient at the prices: by how much the plans exceed each capacity, as a share of it.
func (s *solver) violation(at *prices, plans []*plan, g *prices) {
	p := s.p
	g.clear()
	for b := range g.brewer {
		for t := range g.brewer[b] {
			g.brewer[b][t] = -1
		}
	}
	for t := range g.people {
		g.people[t] = -float64(p.people[t])
		g.store[t] = -(p.store[t] - p.early[t])
	}
	for _, pl := range plans {
		for t, l := range pl.level {
			g.store[t] += l
		}
		for _, st := range pl.starts {
			o := &p.opts[st.opt]
			g.people[st.slot]++
			for t := st.slot; t < st.slot+o.busy; t++ {
				g.brewer[o.brewer][t]++
			}
			if t := st.slot + o.iceSlots; p.ice != nil && t < p.slots {
				g.ice[t] += st.g * o.icePerG
			}
		}
	}
	if p.ice != nil {
		s.iceViolation(at, g)
	}
	s.inUnits(at, g, func(q, g []float64, unit func(t int) float64) {
		for t := range g {
			if g[t] /= unit(t); g[t] < 0 && q[t] <= 0 {
				g[t] = 0
			}
		}
	})
}

// iceViolation adds to g.ice by how much the bin alone, at the prices, falls short of its balance.
func (s *solver) iceViolation(at *prices, g *prices) {
	b := s.p.ice
	n := len(at.ice)
	for t, q := range at.ice {
		next := 0.0
		if t+1 < n {
			next = at.ice[t+1]
		}
		g.ice[t] += b.serve[t] + b.fixedAt(t)
		if q > 0 {
			g.ice[t] -= b.make[t]
		}
		if q > b.short {
			g.ice[t] -= b.serve[t]
		}
		if q-b.keep*next < 0 {
			g.ice[t] += b.capacity
			if t+1 < n {
				g.ice[t+1] -= b.keep * b.capacity
			}
		}
	}
	g.ice[0] -= b.keep * b.opening
}
