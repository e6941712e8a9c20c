package batch

import "math"

// traceback returns the optimal plan of the last call of solve.
func (d *lotDP) traceback(i int) *plan {
	p, b := d.p, &d.p.bevs[i]
	u := &plan{bev: i, level: make([]float64, p.slots)}
	for k := range b.opening {
		b.opening[k].addEarly(u.level, 0)
	}
	state, pos := 0, d.tracebackOpening(i, u)
	for n := len(d.stages) - 1; n >= 0; n-- {
		s := &d.stages[n]
		switch {
		case s.serve:
			if short := b.cum[s.slot+1] - pos; short > 0 {
				u.cost += short * b.short
				pos = b.cum[s.slot+1]
			}
			left := pos - b.cum[s.slot+1]
			u.level[s.slot] += left
			u.cost += left * b.aging
			state = d.nextState(state)
		case s.opening >= 0:
			l := &b.opening[s.opening]
			dead := b.leftCost(l) + d.storePrice(l.ready, l.expires)
			a, _ := minOn(s.after[state], pos, pos+l.g, -dead)
			u.addUnserved(p, l, l.g-(a-pos))
			pos = a
		default:
			state, pos = d.tracebackJoin(s, u, state, pos)
		}
	}
	return u
}

// addUnserved adds g grams of the lot that are never served and stay in the store until they expire.
func (u *plan) addUnserved(p *problem, l *lot, g float64) {
	if g <= 0 {
		return
	}
	u.unserved = append(u.unserved, lot{g: g, ready: l.ready, expires: l.expires})
	u.cost += g * p.bevs[u.bev].leftCost(l)
	for t := l.ready; t < min(l.expires, p.slots); t++ {
		u.level[t] += g
	}
}

// tracebackJoin adds the batch, if any, that is optimal at stage s.
func (d *lotDP) tracebackJoin(s *stage, u *plan, state int, pos float64) (int, float64) {
	p := d.p
	best, bestOpt, bestPos := s.after[state].at(pos), -1, pos
	for _, k := range s.opts {
		if state > 0 && d.states[state].brewer == p.opts[k].brewer {
			continue
		}
		f := d.startCost(k, s.slot-p.opts[k].ready)
		after := s.after[d.startState(k)]
		if pos <= f.before+1e-6 && pos+f.least <= after.last() {
			x, _ := minOn(after, pos+f.least, pos+f.floor, -f.unserved)
			if c := f.cost(x-pos) + after.at(x); c < best-1e-12 {
				best, bestOpt, bestPos = c, k, x
			}
		}
		lo := f.floor
		for m := 0; m < f.pieces && pos+lo <= after.last(); m++ {
			x, _ := minOn(after, pos+lo, pos+f.to[m], f.slope[m])
			if c := f.cost(x-pos) + after.at(x); c < best-1e-12 {
				best, bestOpt, bestPos = c, k, x
			}
			lo = f.to[m]
		}
	}
	if bestOpt < 0 {
		return state, pos
	}
	o := &p.opts[bestOpt]
	t := s.slot - o.ready
	f := d.startCost(bestOpt, t)
	b := batchStart{opt: bestOpt, slot: t, g: f.grams(bestPos - pos)}
	u.starts = append(u.starts, b)
	(&lot{g: b.g, ready: s.slot, early: o.early}).addEarly(u.level, 0)
	u.cost += o.fixed + p.bevs[o.bev].unit*b.g
	u.addUnserved(p, &lot{ready: s.slot, expires: s.slot + p.bevs[o.bev].hold}, b.g-(bestPos-pos))
	return d.startState(bestOpt), bestPos
}

// tracebackOpening returns the optimal useful amount of the opening lots at slot 0, and adds the rest as unserved.
func (d *lotDP) tracebackOpening(i int, u *plan) float64 {
	b := &d.p.bevs[i]
	v := d.root
	best, bestA := math.Inf(1), 0.0
	pieces := d.usefulOpening(i)
	for _, pc := range pieces {
		if pc.from > v.last() {
			break
		}
		a, c := minOn(v, pc.from, min(pc.to, v.last()), pc.slope)
		if c += pc.cost - pc.slope*pc.from; c < best-1e-12 {
			best, bestA = c, a
		}
	}
	left := make([]float64, len(b.opening))
	for n := range b.opening {
		left[n] = b.opening[n].g
	}
	for _, pc := range pieces {
		if pc.lot >= 0 && bestA > pc.from {
			left[pc.lot] -= min(bestA, pc.to) - pc.from
		}
	}
	for n := range b.opening {
		if l := &b.opening[n]; l.ready == 0 || l.ready >= d.p.slots {
			u.addUnserved(d.p, l, left[n])
		}
	}
	return bestA
}

// minOn minimises f(x) + s·x on [lo, hi] within f's domain.
func minOn(f *piecewise, lo, hi, s float64) (x, v float64) {
	lo, hi = max(lo, f.x[0]), min(hi, f.last())
	lo = min(lo, hi)
	x, v = lo, f.at(lo)+s*lo
	if c := f.at(hi) + s*hi; c < v {
		x, v = hi, c
	}
	for j, fx := range f.x {
		if fx > lo && fx < hi {
			if c := f.y[j] + s*fx; c < v {
				x, v = fx, c
			}
		}
	}
	return x, v
}
