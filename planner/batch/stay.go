package batch

import "math"

// stay goes back to the earlier plan where that costs little: a kitchen hates a plan that jumps. Whole earlier plan,
// then one beverage's starts, then single starts are put back, as long as the cost stays within share of the best.
func (s *solver) stay(warm []batchStart, share float64) {
	if len(warm) == 0 || share <= 0 || len(s.best) > manyLots {
		return
	}
	most := s.cost + share*math.Abs(s.cost)
	cur := append([]batchStart(nil), s.best...)
	accept := func(next []batchStart) bool {
		if len(s.apart(append([]batchStart(nil), next...))) < len(next) {
			return false
		}
		c, ok := s.fit.fit(next, false)
		if !ok || c > most {
			return false
		}
		cur = next
		s.best, s.cost = append(s.best[:0:0], next...), c
		return true
	}
	if accept(append([]batchStart(nil), warm...)) {
		return
	}
	for i := range s.p.bevs {
		accept(append(s.without(cur, i), s.onlyOf(warm, i)...))
	}
	for _, w := range warm {
		if has(cur, w) {
			continue
		}
		if k := s.nearest(cur, warm, w); k >= 0 {
			next := append([]batchStart(nil), cur...)
			next[k] = w
			accept(next)
		}
	}
}

func (s *solver) onlyOf(starts []batchStart, bev int) []batchStart {
	var out []batchStart
	for _, b := range starts {
		if s.p.opts[b.opt].bev == bev {
			out = append(out, b)
		}
	}
	return out
}

func (s *solver) without(starts []batchStart, bev int) []batchStart {
	var out []batchStart
	for _, b := range starts {
		if s.p.opts[b.opt].bev != bev {
			out = append(out, b)
		}
	}
	return out
}

func has(starts []batchStart, w batchStart) bool {
	for _, b := range starts {
		if b.opt == w.opt && b.slot == w.slot {
			return true
		}
	}
	return false
}

// nearest is the start of the same beverage nearest in time that is none of the earlier plan's, -1 for none within two hours.
func (s *solver) nearest(starts, warm []batchStart, w batchStart) int {
	best, at := 1+120/s.p.in.SlotMin, -1
	for k, b := range starts {
		if s.p.opts[b.opt].bev != s.p.opts[w.opt].bev || has(warm, b) {
			continue
		}
		if d := max(b.slot-w.slot, w.slot-b.slot); d < best {
			best, at = d, k
		}
	}
	return at
}
