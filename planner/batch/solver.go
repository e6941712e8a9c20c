package batch

import (
	"context"
	"math"
	"math/rand/v2"
)

// solver holds what the stages of Solve share. Work is counted by each part as it goes, in about microseconds.
type solver struct {
	p      *problem
	rng    *rand.Rand
	budget int
	spent  int // by the solver itself

	pool *cutPool
	dual *dual
	rs   *responder
	fit  *fitter

	best  []batchStart
	cost  float64
	bound float64
}

func newSolver(p *problem, seed uint64, budget int) *solver {
	pool := newCutPool(p)
	s := &solver{p: p, pool: pool, rng: rand.New(rand.NewPCG(seed, 0x686f74646179)), budget: budget, dual: newDual(p, pool), rs: newResponder(p, pool), fit: newFitter(p)}
	s.cost, _ = s.fit.fit(nil, false)
	s.bound = p.simpleBound()
	return s
}

func (s *solver) work() int {
	return s.spent + s.dual.dp.work/30 + s.rs.dp.work/30 + s.fit.work
}

// done says whether the plan is proven good enough.
func (s *solver) done() bool {
	return s.near(s.bound)
}

// offer takes starts, their grams set anew, if they are the best so far, and returns their cost.
func (s *solver) offer(starts []batchStart) float64 {
	c, ok := s.fit.fit(starts, false)
	if !ok {
		return math.Inf(1)
	}
	if c < s.cost-1e-7*math.Max(1, math.Abs(c)) {
		s.best, s.cost = append(s.best[:0:0], starts...), c
	}
	return c
}

// root raises the bound of all plans and makes a plan from the prices as it goes.
func (s *solver) root(ctx context.Context, limit int) *node {
	n := &node{m: newMaster(s.p, s.pool), bound: s.bound}
	it := 0
	s.raise(ctx, n, 200, limit, func(at *prices) {
		s.bound = max(s.bound, n.bound)
		if it++; it > 2 {
			s.construct(at, nil)
		}
	})
	return n
}

// construct plans one beverage after the other at the given prices, beside the starts there are, until that stops helping.
func (s *solver) construct(q *prices, st []batchStart) {
	last := math.Inf(1)
	for round := 0; round < 3; round++ {
		for _, i := range s.rng.Perm(len(s.p.bevs)) {
			s.rs.costOf(st)
			st = s.apart(s.rs.respond(i, st, q))
		}
		c := s.rs.costOf(st)
		if c >= last-1e-9 {
			break
		}
		last = c
	}
	if last < s.cost*1.03+1 {
		s.offer(st)
	}
}

// improve searches around the best plan: now and then part of it is taken out and planned again at prices near the best
// ones, then starts are moved one by one.
func (s *solver) improve(ctx context.Context, center *prices, limit int) {
	q := newPrices(s.p)
	fixed := 0.1
	for k := range s.p.opts {
		fixed += s.p.opts[k].fixed / float64(len(s.p.opts))
	}
	const rounds = 6
	from := s.work()
	for round := 0; round < rounds && ctx.Err() == nil && !s.done(); round++ {
		until := from + (limit-from)*(round+1)/rounds
		burst := s.work() + (until-s.work())/4
		for n := 0; s.work() < burst && n < 200 && ctx.Err() == nil && !s.done(); n++ {
			q.set(center)
			share := 1.5 * s.rng.Float64()
			if n == 0 {
				share = 1
			}
			q.scale(share, n%2 == 0)
			var st []batchStart
			if n%4 > 0 {
				gone := s.rng.IntN(len(s.p.bevs))
				for _, b := range s.best {
					if s.rng.IntN(3) > 0 && (n%4 != 1 || s.p.opts[b.opt].bev != gone) {
						st = append(st, b)
					}
				}
			}
			s.construct(q, st)
		}
		s.anneal(ctx, until, (0.002*math.Abs(s.cost)+0.3*fixed)*(1-0.8*float64(round)/rounds))
	}
}

// apart leaves out starts that overlap with earlier ones.
func (s *solver) apart(starts []batchStart) []batchStart {
	kept := starts[:0]
	for _, st := range starts {
		if s.free(kept, st.opt, st.slot, -1) {
			kept = append(kept, st)
		}
	}
	return kept
}

// anneal changes starts one by one, each judged with its best grams, worse ones taken less and less.
func (s *solver) anneal(ctx context.Context, limit int, heat float64) {
	cur := append([]batchStart(nil), s.best...)
	cost := s.cost
	from := s.work()
	next := make([]batchStart, 0, len(cur)+8)
	for s.work() < limit && ctx.Err() == nil && !s.done() {
		share := float64(s.work()-from) / float64(limit-from)
		temp := heat * (1 - share) * (1 - share)
		next = append(next[:0], cur...)
		s.spent++
		var ok bool
		if next, ok = s.move(next); !ok {
			continue
		}
		c := s.offer(next)
		if c < cost || s.rng.Float64() < math.Exp((cost-c)/temp) {
			cur, next, cost = next, cur, c
		}
	}
}

// move changes the starts a little.
func (s *solver) move(st []batchStart) ([]batchStart, bool) {
	p := s.p
	kind := s.rng.IntN(11)
	if len(st) == 0 {
		kind = 0
	}
	switch kind {
	case 0:
		o, t := s.rng.IntN(len(p.opts)), s.rng.IntN(p.slots)
		if !s.free(st, o, t, -1) {
			return st, false
		}
		return append(st, batchStart{opt: o, slot: t}), true
	case 1:
		k := s.rng.IntN(len(st))
		st[k] = st[len(st)-1]
		return st[:len(st)-1], true
	case 2:
		k, o := s.rng.IntN(len(st)), s.rng.IntN(len(p.opts))
		if o == st[k].opt || p.opts[o].bev != p.opts[st[k].opt].bev || !s.free(st, o, st[k].slot, k) {
			return st, false
		}
		st[k].opt = o
		return st, true
	case 3: // two starts change places
		k, j := s.rng.IntN(len(st)), s.rng.IntN(len(st))
		if k == j || p.opts[st[k].opt].bev == p.opts[st[j].opt].bev {
			return st, false
		}
		st[k].slot, st[j].slot = st[j].slot, st[k].slot
		return st, s.free(st, st[k].opt, st[k].slot, k) && s.free(st, st[j].opt, st[j].slot, j)
	case 4: // one moves, another too
		k, j := s.rng.IntN(len(st)), s.rng.IntN(len(st))
		if k == j {
			return st, false
		}
		st[k].slot += s.rng.IntN(7) - 3
		st[j].slot += s.rng.IntN(7) - 3
		return st, s.free(st, st[k].opt, st[k].slot, k) && s.free(st, st[j].opt, st[j].slot, j)
	case 5: // another batch instead
		k, o, t := s.rng.IntN(len(st)), s.rng.IntN(len(p.opts)), s.rng.IntN(p.slots)
		if !s.free(st, o, t, k) {
			return st, false
		}
		st[k] = batchStart{opt: o, slot: t}
		return st, true
	default:
		k := s.rng.IntN(len(st))
		t := st[k].slot + s.rng.IntN(9) - 4
		if t == st[k].slot || !s.free(st, st[k].opt, t, k) {
			return st, false
		}
		st[k].slot = t
		return st, true
	}
}

// free says whether the start fits brewers and people beside the others, start skip left out.
func (s *solver) free(starts []batchStart, opt, slot, skip int) bool {
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
