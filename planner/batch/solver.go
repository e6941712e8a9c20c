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
	fast *gauge
	todo []int // scratch of place
	last []batchStart

	planOnly bool

	best  []batchStart
	cost  float64
	bound float64
}

func newSolver(p *problem, seed uint64, budget int) *solver {
	pool := newCutPool(p)
	s := &solver{p: p, pool: pool, rng: rand.New(rand.NewPCG(seed, 0x686f74646179)), budget: budget, dual: newDual(p, pool), rs: newResponder(p, pool), fit: newFitter(p), fast: newGauge(p)}
	s.cost, _ = s.fit.fit(nil, false)
	s.bound = p.simpleBound()
	return s
}

func (s *solver) work() int {
	return s.spent + s.fast.work + s.dual.dp.work/30 + s.rs.dp.work/30 + s.fit.work
}

// done says whether the plan is proven good enough.
func (s *solver) done() bool {
	return s.near(s.bound)
}

// offer takes starts, their grams set anew, if they are the best so far, and returns their cost.
func (s *solver) offer(starts []batchStart) float64 {
	if len(starts) > manyLots { // their linear program would take too long
		c := s.fast.cost(starts)
		if !math.IsInf(c, 1) {
			c = s.rs.costOf(starts)
		}
		s.spent += s.p.slots * len(s.p.bevs) / 50
		if c < s.cost {
			s.best, s.cost = append(s.best[:0:0], starts...), c
		}
		return c
	}
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
	s.guess(ctx, n, limit)
	it := 0
	s.raise(ctx, n, 200, limit, func(at *prices) {
		s.bound = max(s.bound, n.bound)
		if it++; it%2 == 1 {
			s.construct(at, nil, 3)
		}
	})
	return n
}

// guess finds first prices of ice, and first plans, by turns: what the plans take makes the price, the price makes the
// plans.
func (s *solver) guess(ctx context.Context, n *node, limit int) {
	p := s.p
	q := newPrices(p)
	if s.best == nil {
		s.construct(q, nil, 2)
	} else {
		s.last = s.best
	}
	s.adopt(n)
	if p.ice == nil {
		return
	}
	price := make([]float64, p.slots)
	run := &iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)}
	known := len(s.best) > 0 // then its prices are near enough
	for turn := 0; turn < 5 && ctx.Err() == nil && s.work() < limit; turn++ {
		p.taken(s.last, s.rs.take)
		if _, ok := p.ice.run(s.rs.take, s.rs.need, run); !ok {
			for t := range price {
				price[t] = 1.5 * p.ice.short
			}
		} else {
			p.ice.priced(s.rs.need, run, price)
		}
		share := 1 / float64(turn+1)
		for t := range price {
			q.ice[t] += share * (price[t] - q.ice[t])
		}
		if known && p.slots > manySlots {
			break
		}
		s.construct(q, nil, 1)
		s.adopt(n)
	}
	n.bound = max(n.bound, s.dual.value(q, n.m.add))
	s.bound = max(s.bound, n.bound)
	n.centre = newPrices(p)
	n.centre.set(q)
}

// manySlots is the horizon from which work per plan counts.
const manySlots = 100

// adopt takes what each beverage does in the last plan into the mix.
func (s *solver) adopt(n *node) {
	for i := range s.p.bevs {
		n.m.add(s.p.planOf(i, s.last))
	}
}

// construct plans one beverage after the other at the given prices, beside the starts there are, until that stops helping or
// the rounds are over.
// The plan is in s.last; it returns what it costs before its grams are fitted.
func (s *solver) construct(q *prices, st []batchStart, rounds int) float64 {
	last := math.Inf(1)
	for round := 0; round < rounds; round++ {
		for _, i := range s.rng.Perm(len(s.p.bevs)) {
			s.rs.costOf(st)
			st = s.apart(s.rs.respond(i, st, q))
		}
		st = s.iced(st)
		c := s.rs.costOf(st)
		if c >= last-1e-9 {
			break
		}
		last = c
	}
	if math.IsInf(last, 1) {
		last = s.offer(st) // smaller batches may fit the store
	} else if last < s.cost*1.03+1 {
		s.offer(st)
	}
	s.last = st
	return last
}

// improve searches around the best plan: part of it is taken out and planned again at prices near the best ones, then
// starts are moved one by one. cool is 0 for a wide search and near 1 for a close one; anew
// starts from another plan than the best.
func (s *solver) improve(ctx context.Context, centre *prices, limit int, cool float64, anew bool) {
	q := newPrices(s.p)
	burst := s.work() + (limit-s.work())/4
	var from []batchStart
	other := math.Inf(1)
	for n := 0; s.work() < burst && ctx.Err() == nil && !s.done(); n++ {
		q.set(centre)
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
		if c := s.construct(q, st, 1); n%4 == 0 && c < other {
			other, from = c, append(from[:0], s.last...)
		}
		s.spent++
	}
	warmth := 0.6
	if anew {
		warmth = 1.2
	}
	if !anew || from == nil {
		from = append(from[:0], s.best...)
	}
	heat := s.heat(warmth) * (1 - cool)
	s.anneal(ctx, limit-(limit-s.work())/8, heat, from)
	s.polish(ctx, limit, heat/8)
}

// iced makes batches smaller, then leaves them out, until the bin has the ice that the rest stirs in.
func (s *solver) iced(starts []batchStart) []batchStart {
	p := s.p
	if p.ice == nil {
		return starts
	}
	weight := make([]float64, p.slots)
	for {
		p.taken(starts, s.rs.take)
		if _, ok := p.ice.run(s.rs.take, s.rs.need, nil); ok {
			return starts
		}
		from, _ := p.ice.lacking(s.rs.need)
		p.ice.needed(s.rs.need, from, weight)
		worst, most := -1, 0.0
		for k, b := range starts {
			o := &p.opts[b.opt]
			if t := b.slot + o.iceSlots; t < p.slots && weight[t]*b.g*o.icePerG > most {
				worst, most = k, weight[t]*b.g*o.icePerG
			}
		}
		if worst < 0 {
			return starts
		}
		if least := max(p.opts[starts[worst].opt].min, starts[worst].g/2); starts[worst].g > least*1.01 {
			starts[worst].g = least
		} else {
			starts = append(starts[:worst], starts[worst+1:]...)
		}
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

// anneal changes starts one by one, judged fast; what looks good is fitted.
func (s *solver) anneal(ctx context.Context, limit int, heat float64, cur []batchStart) {
	near := s.fast.cost(append([]batchStart(nil), s.best...)) // what the best plan looks like to the gauge
	if math.IsInf(s.fast.cost(cur), 1) {
		s.polish(ctx, limit, heat)
		return
	}
	from, fitted := s.work(), s.fit.work
	var trial []batchStart
	s.walk(ctx, limit, heat, cur, s.fast.cost, func(cur []batchStart, cost, temp float64) {
		if cost < near+0.2*temp && s.fit.work-fitted < (s.work()-from)/2+500 {
			before := s.cost
			trial = append(trial[:0], cur...)
			if s.offer(trial); s.cost < before {
				near = cost
			}
		}
	})
}

// polish changes starts one by one, each judged with its best grams.
func (s *solver) polish(ctx context.Context, limit int, heat float64) {
	if len(s.best) <= manyLots {
		s.walk(ctx, limit, heat, append([]batchStart(nil), s.best...), s.offer, nil)
	}
}

// walk changes the starts one by one until the limit; changes for the worse are taken less and less (Kirkpatrick, Gelatt &
// Vecchi, Science 220 (1983)). judge says what starts cost and may set their grams; taken, where not nil, is told of each
// change that is taken.
func (s *solver) walk(ctx context.Context, limit int, heat float64, cur []batchStart, judge func([]batchStart) float64, taken func(cur []batchStart, cost, temp float64)) {
	cost := judge(cur)
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
		c := judge(next)
		if c < cost || s.rng.Float64() < math.Exp((cost-c)/temp) {
			cur, next, cost = next, cur, c
			if taken != nil {
				taken(cur, cost, temp)
			}
		}
	}
}
