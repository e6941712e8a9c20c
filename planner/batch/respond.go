package batch

import "math"

// responder plans one beverage again beside what is planned of the others.
type responder struct {
	p     *problem
	dp    *lotDP
	level [][]float64 // by beverage, what it holds at the end of each slot
	lots  []lot
	take  []float64
	need  []float64
	ar    around
}

func newResponder(p *problem, pool *cutPool) *responder {
	r := &responder{p: p, dp: newLotDP(p, pool), take: make([]float64, p.slots), need: make([]float64, p.slots+1)}
	r.level = make([][]float64, len(p.bevs))
	for i := range r.level {
		r.level[i] = make([]float64, p.slots)
	}
	for i := range r.dp.tracked {
		for b := range r.dp.tracked[i] {
			r.dp.tracked[i][b] = true
		}
	}
	r.ar.taken = make([][]int, p.brewer)
	for b := range r.ar.taken {
		r.ar.taken[b] = make([]int, p.slots+1)
	}
	r.ar.people, r.ar.room = make([]int, p.slots), make([]float64, p.slots)
	return r
}

// costOf is the cost of the starts, infinite where the store or the ice does not carry them.
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
		p.taken(starts, r.take)
		c, ok := p.ice.run(r.take, r.need, nil)
		if !ok {
			return math.Inf(1)
		}
		cost += c
	}
	return cost
}

// leave sets what starts of beverages other than i leave. levels must be those of starts.
func (r *responder) leave(i int, starts []batchStart) {
	p := r.p
	copy(r.ar.people, p.people)
	for b := range r.ar.taken {
		clear(r.ar.taken[b])
	}
	for _, s := range starts {
		o := &p.opts[s.opt]
		if o.bev == i {
			continue
		}
		r.ar.people[s.slot]--
		for k := s.slot; k < s.slot+o.busy; k++ {
			r.ar.taken[o.brewer][k+1]++
		}
	}
	for b := range r.ar.taken {
		for t := 0; t < p.slots; t++ {
			r.ar.taken[b][t+1] += r.ar.taken[b][t]
		}
	}
	for t := range r.ar.room {
		g := 0.0
		for j := range r.level {
			if j != i {
				g += r.level[j][t]
			}
		}
		r.ar.room[t] = max(0, p.store[t]-g)
	}
}

// respond replans beverage i beside the others at prices q.
func (r *responder) respond(i int, starts []batchStart, q *prices) []batchStart {
	r.leave(i, starts)
	r.dp.around = &r.ar
	r.dp.setPrices(q)
	r.dp.beverage(i)
	var out []batchStart
	for _, s := range starts {
		if r.p.opts[s.opt].bev != i {
			out = append(out, s)
		}
	}
	return append(out, r.dp.follow(i).starts...)
}
