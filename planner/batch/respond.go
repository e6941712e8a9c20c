package batch

import "math"

// responder replans one beverage with the others fixed: its best response.
type responder struct {
	p        *problem
	dp       *lotDP
	level    [][]float64 // by beverage, stock at the end of each slot
	lots     []lot
	take     []float64
	need     []float64
	residual residual
	unserved []float64 // scratch, by slot
}

func newResponder(p *problem, pool *cutPool) *responder {
	r := &responder{p: p, dp: newLotDP(p, pool), take: make([]float64, p.slots), unserved: make([]float64, p.slots), need: make([]float64, p.slots+1)}
	r.level = make([][]float64, len(p.bevs))
	for i := range r.level {
		r.level[i] = make([]float64, p.slots)
	}
	for i := range r.dp.tracked {
		for b := range r.dp.tracked[i] {
			r.dp.tracked[i][b] = true
		}
	}
	r.residual.busy = make([][]int, p.brewer)
	for b := range r.residual.busy {
		r.residual.busy[b] = make([]int, p.slots+1)
	}
	r.residual.people, r.residual.room, r.residual.whole = make([]int, p.slots), make([]float64, p.slots), make([]float64, p.slots)
	r.residual.used = newUsage(p)
	return r
}

// costOf is the cost of the starts, infinite if they exceed the store, the ice or a limit. It sets r.level.
func (r *responder) costOf(starts []batchStart) float64 {
	p := r.p
	cost := 0.0
	for _, st := range starts {
		o := &p.opts[st.opt]
		cost += o.fixed + p.bevs[o.bev].unit*st.g
	}
	for i := range p.bevs {
		clear(r.level[i])
		r.lots = p.lots(i, starts, r.lots)
		cost += p.bevs[i].serveEDF(r.lots, r.level[i], nil, nil)
	}
	for t := range p.store {
		g := 0.0
		for i := range r.level {
			g += r.level[i][t]
		}
		if g > p.store[t]*(1+1e-12)+1e-6 {
			return math.Inf(1)
		}
	}
	if p.ice != nil {
		p.iceTaken(starts, r.take)
		c, ok := p.ice.run(r.take, r.need, nil)
		if !ok {
			return math.Inf(1)
		}
		cost += c
	}
	if !p.withinLimits(starts) {
		return math.Inf(1)
	}
	return cost
}

// setResidual sets r.residual to the capacity left by the other beverages' starts. r.level must be that of starts.
func (r *responder) setResidual(i int, starts []batchStart) {
	p := r.p
	copy(r.residual.people, p.people)
	clear(r.residual.used.work)
	clear(r.residual.used.baths)
	for b := range r.residual.busy {
		clear(r.residual.busy[b])
	}
	for _, s := range starts {
		o := &p.opts[s.opt]
		if o.bev == i {
			continue
		}
		r.residual.people[s.slot]--
		r.residual.used.add(p, s)
		for k := s.slot; k < s.slot+o.busy; k++ {
			r.residual.busy[o.brewer][k+1]++
		}
	}
	for b := range r.residual.busy {
		for t := 0; t < p.slots; t++ {
			r.residual.busy[b][t+1] += r.residual.busy[b][t]
		}
	}
	for t := range r.residual.room {
		g := 0.0
		for j := range r.level {
			if j != i {
				g += r.level[j][t]
			}
		}
		r.residual.room[t] = max(0, p.store[t]-g)
	}
	copy(r.residual.whole, r.residual.room)
}

// respond replans beverage i at prices q with the others fixed.
func (r *responder) respond(i int, starts []batchStart, q *prices) []batchStart {
	r.setResidual(i, starts)
	r.dp.residual = &r.residual
	r.dp.setPrices(q)
	pl := r.best(i)
	var out []batchStart
	for _, s := range starts {
		if r.p.opts[s.opt].bev != i {
			out = append(out, s)
		}
	}
	return append(out, pl.starts...)
}

// best is the best plan of beverage i within the residual capacity, at the prices set. The dynamic program keeps what is served to the
// room in the store, but not what is never served of a smallest batch; if both together exceed it, it is solved again with the room
// that the latter left.
func (r *responder) best(i int) *plan {
	for turn := 0; ; turn++ {
		r.dp.solve(i)
		pl := r.dp.traceback(i)
		if turn == roomTurns || !r.tighten(i, pl) {
			return pl
		}
	}
}

// roomTurns is the number of times that best makes room for what is never served.
const roomTurns = 2

// tighten lowers the room for what is served, where the plan exceeds it, by what is never served, and reports whether it did.
func (r *responder) tighten(i int, pl *plan) bool {
	clear(r.unserved)
	for _, l := range pl.unserved {
		for t := l.ready; t < min(l.expires, r.p.slots); t++ {
			r.unserved[t] += l.g
		}
	}
	lower := false
	for t, g := range pl.level {
		if free := max(0, r.residual.whole[t]-r.unserved[t]); g > r.residual.whole[t]+1e-6 && free < r.residual.room[t]-1e-6 {
			r.residual.room[t] = free
			lower = true
		}
	}
	return lower
}
