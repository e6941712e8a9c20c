package batch

import (
	"context"
	"math"
	"math/rand/v2"
)

type search struct {
	p      *problem
	rng    *rand.Rand
	budget int
	work   int
	best   []batchStart
	cost   float64

	lots        []lot
	level, take []float64
	need        []float64
}

// costOf is the cost of the starts, infinite where the store or the ice does not carry them.
func (s *search) costOf(starts []batchStart) float64 {
	p := s.p
	s.work += 1 + p.slots*(len(p.bevs)+1)/60
	clear(s.level)
	cost := 0.0
	for _, st := range starts {
		o := &p.opts[st.opt]
		cost += o.fixed + p.bevs[o.bev].unit*st.g
	}
	for i := range p.bevs {
		s.lots = p.lots(i, starts, s.lots)
		cost += p.bevs[i].serveEDF(s.lots, s.level, nil, nil)
	}
	for t, g := range s.level {
		if g > p.store[t]*(1+1e-12) {
			return math.Inf(1)
		}
	}
	if p.ice != nil {
		p.taken(starts, s.take)
		c, ok := p.ice.run(s.take, s.need, nil)
		if !ok {
			return math.Inf(1)
		}
		cost += c
	}
	return cost
}

// free says whether the start fits brewers and people beside the others, start skip left out.
func (s *search) free(starts []batchStart, opt, slot, skip int) bool {
	o := &s.p.opts[opt]
	if slot < 0 || slot >= s.p.slots || !o.may[slot] {
		return false
	}
	same := 1
	for k, other := range starts {
		if k == skip {
			continue
		}
		if q := &s.p.opts[other.opt]; q.brewer == o.brewer && slot < other.slot+q.busy && other.slot < slot+o.busy {
			return false
		}
		if other.slot == slot {
			same++
		}
	}
	return same <= s.p.people[slot]
}

func (s *search) run(ctx context.Context, warm []batchStart) {
	p := s.p
	s.level, s.take, s.need = make([]float64, p.slots), make([]float64, p.slots), make([]float64, p.slots+1)
	s.best, s.cost = nil, s.costOf(nil)
	if len(warm) > 0 {
		if c := s.costOf(warm); c < s.cost {
			s.best, s.cost = warm, c
		}
	}
	if len(p.opts) == 0 {
		return
	}
	cur, cost := append([]batchStart(nil), s.best...), s.cost
	next := make([]batchStart, 0, 64)
	from := s.work
	for s.work < s.budget && ctx.Err() == nil {
		done := float64(s.work-from) / float64(s.budget-from)
		temp := 0.02 * math.Abs(s.cost+1) * math.Pow(0.002, done)
		next = append(next[:0], cur...)
		s.work++
		var ok bool
		if next, ok = s.move(next); !ok {
			continue
		}
		c := s.costOf(next)
		if c <= cost || s.rng.Float64() < math.Exp((cost-c)/temp) {
			cur, next, cost = next, cur, c
			if c < s.cost-1e-9 {
				s.best, s.cost = append([]batchStart(nil), cur...), c
			}
		}
	}
}

func (s *search) move(st []batchStart) ([]batchStart, bool) {
	p := s.p
	kind := s.rng.IntN(8)
	if len(st) == 0 {
		kind = 0
	}
	switch kind {
	case 0:
		o, t := s.rng.IntN(len(p.opts)), s.rng.IntN(p.slots)
		if !s.free(st, o, t, -1) {
			return st, false
		}
		return append(st, batchStart{opt: o, slot: t, g: s.grams(o, t)}), true
	case 1:
		k := s.rng.IntN(len(st))
		st[k] = st[len(st)-1]
		return st[:len(st)-1], true
	case 2, 3:
		k := s.rng.IntN(len(st))
		t := st[k].slot + s.rng.IntN(9) - 4
		if !s.free(st, st[k].opt, t, k) {
			return st, false
		}
		st[k].slot = t
		return st, true
	case 4:
		k, o := s.rng.IntN(len(st)), s.rng.IntN(len(p.opts))
		if !s.free(st, o, st[k].slot, k) {
			return st, false
		}
		st[k].g, st[k].opt = min(max(st[k].g, p.opts[o].min), p.opts[o].max), o
		return st, true
	default:
		k := s.rng.IntN(len(st))
		st[k].g = s.grams(st[k].opt, st[k].slot)
		return st, true
	}
}

// grams is a size worth trying: what is asked for from the ready slot to some later one, or a bit less.
func (s *search) grams(opt, slot int) float64 {
	o := &s.p.opts[opt]
	b := &s.p.bevs[o.bev]
	r := slot + o.ready
	g := b.cum[min(r+1+s.rng.IntN(min(b.hold, s.p.slots-r)), s.p.slots)] - b.cum[r]
	if s.rng.IntN(3) == 0 {
		g = o.min + s.rng.Float64()*(o.max-o.min)
	}
	return min(max(g, o.min), o.max)
}
