package batch

import (
	"context"
	"math"
)

// effort is about what planning every beverage once costs, in work units.
func (p *problem) effort() int {
	n := 0
	for i := range p.bevs {
		n += p.slots * (1 + 2*len(p.bevs[i].opts)) * 3 / 2
	}
	return n
}

// large says whether the budget does not allow to plan every beverage a good many times.
func (s *solver) large() bool { return 12*s.p.effort() > s.budget }

// quick is for instances that are large for the budget: each beverage is planned beside those before, as far as half of
// the budget goes, the starts are then moved one by one; the bound is what each beverage costs when it shares nothing.
func (s *solver) quick(ctx context.Context) {
	p := s.p
	q := newPrices(p)
	s.dual.dp.setPrices(q)
	bound := s.dual.iceValue(q)
	for i := range p.bevs {
		if ctx.Err() != nil || s.work() > s.budget/4 {
			bound += p.simpleBoundOf(i)
			continue
		}
		bound += max(s.dual.dp.beverage(i), p.simpleBoundOf(i))
	}
	s.bound = max(s.bound, bound)
	s.sketch(ctx, s.budget)
}

// sketch plans each beverage beside those before, as far as half of what is left goes, and moves the starts one by one.
func (s *solver) sketch(ctx context.Context, limit int) {
	p := s.p
	for i := range s.rs.dp.tracked {
		clear(s.rs.dp.tracked[i]) // states would multiply the work
	}
	q := newPrices(p)
	half := s.work() + (limit-s.work())/2
	st := append([]batchStart(nil), s.best...)
	for i := range p.bevs {
		if ctx.Err() != nil || s.work() > half {
			break
		}
		s.rs.costOf(st)
		next := s.iced(s.apart(s.rs.respond(i, st, q)))
		if c := s.fast.cost(next); c < s.cost {
			if c = s.rs.costOf(next); c < s.cost {
				s.best, s.cost, st = append(s.best[:0:0], next...), c, next
			}
		}
	}
	s.anneal(ctx, limit-(limit-s.work())/8, s.heat(0.3), append([]batchStart(nil), s.best...))
	s.polish(ctx, limit, s.heat(0.03))
	for i := range s.rs.dp.tracked {
		for b := range s.rs.dp.tracked[i] {
			s.rs.dp.tracked[i][b] = true
		}
	}
}

// heat is how much worse a change may be at first, by the cost of a batch and, a little, of all.
func (s *solver) heat(warmth float64) float64 {
	fixed := 0.1
	for k := range s.p.opts {
		fixed += s.p.opts[k].fixed / float64(len(s.p.opts))
	}
	return warmth * (0.001*math.Abs(s.cost) + fixed)
}
