package batch

import (
	"context"
	"math"
	"math/rand/v2"
)

// solver is the state of Solve. Each part counts its own work.
type solver struct {
	p      *problem
	rng    *rand.Rand
	budget int
	spent  int // by the solver itself

	pool      *cutPool
	dual      *dual
	responder *responder
	fit       *fitter
	estimate  *estimator
	sizer     *sizer
	todo      []int // scratch of place
	last      []batchStart
	used      usage // scratch

	planOnly  bool
	reserve   int     // further work where the gap remains
	ruinShare float64 // share of improve spent on ruin and recreate

	best  []batchStart
	cost  float64
	bound float64
}

func newSolver(p *problem, seed uint64, budget int) *solver {
	pool := newCutPool(p)
	s := &solver{p: p, pool: pool, rng: rand.New(rand.NewPCG(seed, 0x686f74646179)), budget: budget, dual: newDual(p, pool), responder: newResponder(p, pool), fit: newFitter(p), estimate: newEstimator(p), sizer: newSizer(p), used: newUsage(p)}
	s.cost, _ = s.fit.fit(nil, false)
	s.bound = p.simpleBound()
	s.ruinShare = 0.6
	return s
}

func (s *solver) work() int {
	return s.spent + s.estimate.work + s.dual.dp.work/30 + s.responder.dp.work/30 + s.fit.work + s.sizer.work
}

// done reports whether the incumbent is proven good enough.
func (s *solver) done() bool {
	return s.closes(s.bound)
}

// tryStarts optimises the grams or sizes of starts, makes them the incumbent if they are the cheapest so far, and returns their cost.
func (s *solver) tryStarts(starts []batchStart) float64 {
	if s.p.whole {
		c, kept := s.sizer.size(starts)
		if c < s.cost-1e-7*math.Max(1, math.Abs(c)) {
			s.best, s.cost = append(s.best[:0:0], starts[:kept]...), c
		}
		return c
	}
	if len(starts) > maxFitStarts { // the linear program would take too long
		c := s.estimate.cost(starts)
		if starts = s.p.repairLimits(starts); !math.IsInf(c, 1) {
			c = s.responder.costOf(starts)
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

// root is column generation at the root node, which also constructs plans from the prices.
func (s *solver) root(ctx context.Context, limit int) *node {
	n := &node{m: newMaster(s.p, s.pool), bound: s.bound}
	s.initialPrices(ctx, n, limit)
	it, every := 0, 4
	if s.p.brewer < 2 {
		every = 2
	}
	if s.p.slots > longHorizon { // constructing a plan costs more than an iteration, and the first prices are poor
		every = 6
	}
	each := func(at *prices) {
		s.bound = max(s.bound, n.bound)
		if it++; it%every == 1 {
			s.construct(at, nil, 3)
		}
	}
	spent, priced := s.spent, s.dual.dp.work
	s.generateColumns(ctx, n, ascentAfter, limit, each)
	if s.spent-spent > ascentWorth*(s.dual.dp.work-priced)/30 && n.m.objective()-n.bound > 0.05*math.Abs(n.bound) {
		s.ascend(ctx, n, s.work()+(limit-s.work())/4)
		s.bound = max(s.bound, n.bound)
	}
	s.generateColumns(ctx, n, 200, limit, each)
	return n
}

const (
	ascentAfter = 6 // iterations of column generation after which root considers a subgradient method
	ascentWorth = 4 // ratio of the work of the master to that of pricing above which it is worth it
)

// initialPrices finds initial ice prices and plans by fixed-point iteration: plans at the current prices, then prices from the
// ice that those plans take, averaged.
func (s *solver) initialPrices(ctx context.Context, n *node, limit int) {
	p := s.p
	q := newPrices(p)
	if s.best == nil {
		s.construct(q, nil, 2)
	} else {
		s.last = s.best
	}
	s.addColumns(n)
	if p.ice == nil {
		return
	}
	price := make([]float64, p.slots)
	run := &iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)}
	known := len(s.best) > 0 // its prices are close enough
	for turn := 0; turn < 5 && ctx.Err() == nil && s.work() < limit; turn++ {
		p.iceTaken(s.last, s.responder.take)
		if _, ok := p.ice.run(s.responder.take, s.responder.need, run); !ok {
			for t := range price {
				price[t] = 1.5 * p.ice.short
			}
		} else {
			p.ice.subgradient(s.responder.need, run, price)
		}
		share := 1 / float64(turn+1)
		for t := range price {
			q.ice[t] += share * (price[t] - q.ice[t])
		}
		if known && p.slots > longHorizon {
			break
		}
		s.construct(q, nil, 1)
		s.addColumns(n)
	}
	n.bound = max(n.bound, s.dual.value(q, n.m.add))
	s.bound = max(s.bound, n.bound)
	n.centre = newPrices(p)
	n.centre.set(q)
}

// longHorizon is the horizon above which constructing a plan is slow.
const longHorizon = 100

// addColumns adds each beverage's part of the last plan as a column.
func (s *solver) addColumns(n *node) {
	for i := range s.p.bevs {
		n.m.add(s.p.planOf(i, s.last))
	}
}

// construct plans the beverages one by one at the given prices around the existing starts st, for up to rounds rounds while
// that lowers the cost. The plan is s.last; construct returns its cost before fitting the grams.
func (s *solver) construct(q *prices, st []batchStart, rounds int) float64 {
	last := math.Inf(1)
	for round := 0; round < rounds; round++ {
		for _, i := range s.rng.Perm(len(s.p.bevs)) {
			s.responder.costOf(st)
			st = s.settle(s.responder.respond(i, st, q))
		}
		st = s.repair(st)
		c := s.responder.costOf(st)
		if c >= last-1e-9 {
			break
		}
		last = c
	}
	if math.IsInf(last, 1) {
		last = s.tryStarts(st) // smaller batches may fit the store
	} else if last < s.cost*1.03+1 {
		s.tryStarts(st)
	}
	s.last = st
	return last
}

// improve searches around the incumbent: large neighbourhood search, which removes part of it and replans it at prices near
// the best ones, then simulated annealing. cool ranges from 0 for a wide search to 1 for a narrow one; restart starts
// annealing from a different plan.
func (s *solver) improve(ctx context.Context, centre *prices, limit int, cool float64, restart bool) {
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
	ruined := s.cost
	s.ruinFromSeveral(ctx, centre, s.initialTemp(0.3)*(1-cool), s.work()+int(s.ruinShare*float64(limit-s.work())), restart || s.cost-s.bound > 0.04*math.Abs(s.cost))
	before, gained := s.cost, ruined-s.cost
	scale := 0.6
	if restart {
		scale = 1.2
	}
	if !restart || from == nil {
		from = append(from[:0], s.best...)
	}
	temp := s.initialTemp(scale) * (1 - cool)
	s.anneal(ctx, limit-(limit-s.work())/8, temp, from)
	s.annealExact(ctx, limit, temp/8)
	if before-s.cost > gained { // more of the next turn to the search that found more
		s.ruinShare = 0.3
	} else if gained > 0 {
		s.ruinShare = 0.8
	}
}

// ruinFromSeveral is ruin from the incumbent or, if others is set, first for half of the work from further plans constructed at the prices: on
// hard instances the first plan may be far from the best, however much it is improved.
func (s *solver) ruinFromSeveral(ctx context.Context, centre *prices, heat float64, limit int, others bool) {
	if len(s.p.bevs) < 2 {
		return
	}
	if others {
		part := (limit - s.work()) / (2 * furtherPlans)
		for range furtherPlans {
			until := s.work() + part
			s.construct(centre, nil, 1)
			s.ruin(ctx, centre, append([]batchStart(nil), s.last...), heat, until)
		}
	}
	s.ruin(ctx, centre, append([]batchStart(nil), s.best...), heat, limit)
}

// furtherPlans is the number of further plans that ruinFromSeveral begins from.
const furtherPlans = 3

// repair shrinks and removes batches until ice and limits suffice for the rest.
func (s *solver) repair(starts []batchStart) []batchStart {
	return s.p.repairLimits(s.repairIce(starts))
}

// repairIce repairs an ice shortage: it shrinks, then removes batches until the bin has enough for the rest.
func (s *solver) repairIce(starts []batchStart) []batchStart {
	p := s.p
	if p.ice == nil {
		return starts
	}
	weight := make([]float64, p.slots)
	for {
		p.iceTaken(starts, s.responder.take)
		if _, ok := p.ice.run(s.responder.take, s.responder.need, nil); ok {
			return starts
		}
		from, _ := p.ice.bottleneck(s.responder.need)
		p.ice.needWeights(s.responder.need, from, weight)
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

// dropConflicts removes starts in conflict with earlier ones.
func (s *solver) dropConflicts(starts []batchStart) []batchStart {
	kept := starts[:0]
	for _, st := range starts {
		if s.canPlace(kept, st.opt, st.slot, -1) {
			kept = append(kept, st)
		}
	}
	return kept
}

// anneal is simulated annealing by the estimated cost; promising states are fitted.
func (s *solver) anneal(ctx context.Context, limit int, heat float64, cur []batchStart) {
	near := s.estimate.cost(append([]batchStart(nil), s.best...)) // estimated cost of the incumbent
	if math.IsInf(s.estimate.cost(cur), 1) {
		s.annealExact(ctx, limit, heat)
		return
	}
	from, fitted := s.work(), s.fit.work+s.sizer.work
	var trial []batchStart
	s.annealWith(ctx, limit, heat, cur, s.estimate.cost, func(cur []batchStart, cost, temp float64) {
		if cost < near+0.2*temp && s.fit.work+s.sizer.work-fitted < (s.work()-from)/2+500 {
			before := s.cost
			trial = append(trial[:0], cur...)
			if s.tryStarts(trial); s.cost < before {
				near = cost
			}
		}
	})
}

// annealExact is simulated annealing by the exact cost, with the grams optimised.
func (s *solver) annealExact(ctx context.Context, limit int, heat float64) {
	if len(s.best) <= maxFitStarts {
		s.annealWith(ctx, limit, heat, append([]batchStart(nil), s.best...), s.tryStarts, nil)
	}
}

// annealWith is simulated annealing (Kirkpatrick, Gelatt & Vecchi, Science 220 (1983)) from cur until the work limit. judge returns
// the cost of starts and may set their grams; taken, unless nil, is called for each accepted move.
func (s *solver) annealWith(ctx context.Context, limit int, heat float64, cur []batchStart, judge func([]batchStart) float64, taken func(cur []batchStart, cost, temp float64)) {
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
