package batch

import (
	"context"
	"math"
)

// ruin improves the plan st by ruin and recreate (Schrimpf et al., Journal of Computational Physics 159 (2000)): it removes batches, all
// of a few beverages or those of many that start within a few hours, and plans these beverages again one after the other, each by its
// exact dynamic program within the capacity that the others leave, the first ones at a share of the prices, so that they leave room for
// the rest. A result slightly worse than the plan is accepted while the temperature is high.
func (s *solver) ruin(ctx context.Context, centre *prices, st []batchStart, temp float64, limit int) {
	p := s.p
	n := len(p.bevs)
	q := newPrices(p)
	cost := s.responder.costOf(st)
	if math.IsInf(cost, 1) {
		cost = s.tryStarts(st)
	}
	from := s.work()
	var next []batchStart
	r := &s.responder.residual
	for s.work() < limit && ctx.Err() == nil && !s.done() {
		k := min(n, 2+s.rng.IntN(2))
		r.from, r.to = 0, 0
		if s.rng.IntN(3) > 0 {
			k = min(n, 2+s.rng.IntN(n))
			r.from = s.rng.IntN(p.slots) - 4
			r.to = max(1, r.from+6+s.rng.IntN(18))
		}
		order := s.rng.Perm(n)[:k]
		next = append(next[:0], st...)
		r.kept = r.kept[:0]
		for _, i := range order {
			for b := len(next) - 1; b >= 0; b-- {
				if t := next[b].slot; p.opts[next[b].opt].bev == i && (r.to == 0 || t >= r.from && t < r.to) {
					next = append(next[:b], next[b+1:]...)
				}
			}
		}
		r.kept = append(r.kept, next...)
		share := 1.2 * s.rng.Float64()
		for j, i := range order {
			q.set(centre)
			q.scale(share*float64(k-1-j)/float64(max(1, k-1)), false)
			s.responder.costOf(next)
			next = s.settle(s.responder.respond(i, next, q))
		}
		next = s.repair(next)
		c := s.responder.costOf(next)
		s.spent += 5
		heat := temp * (1 - float64(s.work()-from)/float64(limit-from))
		if c < s.cost*1.05 || math.IsInf(c, 1) {
			c = min(c, s.tryStarts(next))
		}
		if c < cost || s.rng.Float64() < math.Exp((cost-c)/max(heat, 1e-9)) {
			st, cost = append(st[:0], next...), c
		}
	}
	r.from, r.to = 0, 0
}
