package batch

import (
	"context"
	"math"
)

// ruin improves the plan st by ruin and recreate (Schrimpf et al., Journal of Computational Physics 159 (2000)): it removes the batches of
// a few beverages, mostly those that start within a few hours around a shortage, and plans these beverages again one after the other, each
// by its exact dynamic program within the capacity that the others leave, the first ones at a share of the prices, so that they leave room
// for the rest. A result slightly worse than the plan is accepted while the temperature, which falls from heat, is high.
func (s *solver) ruin(ctx context.Context, centre *prices, st []batchStart, heat float64, limit int) {
	cost := s.responder.costOf(st)
	if math.IsInf(cost, 1) {
		cost = s.tryStarts(st)
	}
	q := newPrices(s.p)
	var next []batchStart
	defer s.responder.residual.free()
	for from := s.work(); s.work() < limit && ctx.Err() == nil && !s.done(); {
		order := s.chooseRuin(st)
		next = s.remove(append(next[:0], st...), order)
		share := 1.2 * s.rng.Float64()
		for j, i := range order {
			q.set(centre)
			q.scale(share*float64(len(order)-1-j)/float64(max(1, len(order)-1)), false)
			s.responder.costOf(next)
			next = s.settle(s.responder.respond(i, next, q))
		}
		next = s.repair(next)
		c := s.responder.costOf(next)
		s.spent += 5
		temp := heat * (1 - float64(s.work()-from)/float64(limit-from))
		if c < s.cost+0.01*math.Abs(s.cost) || math.IsInf(c, 1) {
			c = min(c, s.tryStarts(next))
		}
		if c < cost || s.rng.Float64() < math.Exp((cost-c)/max(temp, 1e-9)) {
			st, cost = append(st[:0], next...), c
		}
	}
}

// chooseRuin chooses the beverages to plan again, in order, and the slots in which their starts are free.
func (s *solver) chooseRuin(st []batchStart) []int {
	n := len(s.p.bevs)
	r := &s.responder.residual
	r.free()
	order := s.rng.Perm(n)
	if s.rng.IntN(5) == 0 { // two beverages, all day
		return order[:min(n, 2)]
	}
	all := 8
	if s.p.brewer < 2 { // beverages take turns on it
		all = 2
	}
	if s.rng.IntN(all) > 0 {
		order = order[:min(n, 2+s.rng.IntN(3))]
	}
	wide := 4 + s.rng.IntN(16)
	r.from = s.rng.IntN(s.p.slots) - 4
	if s.rng.IntN(4) > 0 {
		if i, at := s.shortage(st); i >= 0 {
			r.from = at - s.rng.IntN(wide+4)
			if s.rng.IntN(2) == 0 { // it comes first
				for j, o := range order {
					if o == i {
						order[j] = order[0]
					}
				}
				order[0] = i
			}
		}
	}
	r.to = max(1, r.from+wide)
	return order
}

// remove removes the starts of the beverages in the slots that are free, and keeps the others of them as the only ones possible elsewhere.
func (s *solver) remove(st []batchStart, bevs []int) []batchStart {
	r := &s.responder.residual
	kept := st[:0]
	for _, b := range st {
		gone := false
		for _, i := range bevs {
			gone = gone || s.p.opts[b.opt].bev == i && (r.to == 0 || b.slot >= r.from && b.slot < r.to)
		}
		if !gone {
			kept = append(kept, b)
		}
	}
	r.kept = append(r.kept[:0], kept...)
	return kept
}

// shortage picks a shortage of the plan at random, by its cost; bev is −1 if there is none.
func (s *solver) shortage(st []batchStart) (bev, slot int) {
	p := s.p
	bev, slot = -1, 0
	sum := 0.0
	short := make([]float64, p.slots)
	for i := range p.bevs {
		clear(short)
		s.responder.lots = p.lots(i, st, s.responder.lots)
		p.bevs[i].serveEDF(s.responder.lots, nil, nil, short)
		for t, g := range short {
			if c := g * p.bevs[i].short; c > 0 {
				if sum += c; s.rng.Float64()*sum < c {
					bev, slot = i, t
				}
			}
		}
	}
	return bev, slot
}
