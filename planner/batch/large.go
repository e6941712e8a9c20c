package batch

import (
	"context"
	"math"
)

// sweepWork is the approximate work to plan every beverage once.
func (p *problem) sweepWork() int {
	n := 0
	for i := range p.bevs {
		n += p.slots * (1 + 2*len(p.bevs[i].opts)) * 3 / 2
	}
	return n
}

// tooLarge reports whether the budget is too small to plan every beverage often enough for column generation.
func (s *solver) tooLarge() bool { return 12*s.p.sweepWork() > s.budget }

// solveLarge solves instances that are large for the budget: a greedy plan, and as the bound the cost of each beverage with no
// shared capacity.
func (s *solver) solveLarge(ctx context.Context) {
	p := s.p
	q := newPrices(p)
	s.dual.dp.setPrices(q)
	bound := s.dual.iceValue(q)
	for i := range p.bevs {
		if ctx.Err() != nil || s.work() > s.budget/4 {
			bound += p.simpleBoundOf(i)
			continue
		}
		bound += max(s.dual.dp.solve(i), p.simpleBoundOf(i))
	}
	s.bound = max(s.bound, bound)
	s.greedy(ctx, s.budget)
}

// greedy plans the beverages one by one, for up to half of the work left, and improves the plan by simulated annealing.
func (s *solver) greedy(ctx context.Context, limit int) {
	p := s.p
	for i := range s.responder.dp.tracked {
		clear(s.responder.dp.tracked[i]) // more states take more work
	}
	q := newPrices(p)
	half := s.work() + (limit-s.work())/2
	st := append([]batchStart(nil), s.best...)
	for i := range p.bevs {
		if ctx.Err() != nil || s.work() > half {
			break
		}
		s.responder.costOf(st)
		next := s.repair(s.settle(s.responder.respond(i, st, q)))
		if c := s.estimate.cost(next); c < s.cost {
			next = p.repairLimits(next) // the estimate sets the grams
			if c = s.responder.costOf(next); c < s.cost {
				s.best, s.cost, st = append(s.best[:0:0], next...), c, next
			}
		}
	}
	s.anneal(ctx, limit-(limit-s.work())/8, s.initialTemp(0.3), append([]batchStart(nil), s.best...))
	s.annealExact(ctx, limit, s.initialTemp(0.03))
	for i := range s.responder.dp.tracked {
		for b := range s.responder.dp.tracked[i] {
			s.responder.dp.tracked[i][b] = true
		}
	}
}

// initialTemp is the initial temperature of simulated annealing, in proportion to the mean batch cost and, weakly, the total cost.
func (s *solver) initialTemp(scale float64) float64 {
	fixed := 0.1
	for k := range s.p.opts {
		fixed += s.p.opts[k].fixed / float64(len(s.p.opts))
	}
	return scale * (0.001*math.Abs(s.cost) + fixed)
}
