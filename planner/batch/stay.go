package batch

import (
	"cmp"
	"math"
	"slices"
)

// stay goes back to the earlier plan where that costs little: a kitchen hates a plan that jumps. Whole earlier plan,
// then one beverage's starts, then single starts are put back, as long as the cost stays within share of the best.
func (s *solver) stay(warm []batchStart, share float64) {
	if len(warm) == 0 || share <= 0 || len(s.best) > manyLots {
		return
	}
	defer s.dropNeedless()
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
	// Single starts next, the cheapest to put back first, so that what may be spent keeps as much as it can.
	type back struct {
		w    batchStart
		cost float64
	}
	for range staysRounds {
		var list []back
		for _, w := range warm {
			if next := s.putBack(cur, warm, w); next != nil {
				if c, ok := s.fit.fit(next, false); ok && c <= most {
					list = append(list, back{w, c})
				}
			}
		}
		slices.SortStableFunc(list, func(a, b back) int { return cmp.Compare(a.cost, b.cost) })
		any := false
		for _, b := range list {
			if next := s.putBack(cur, warm, b.w); next != nil && accept(next) {
				any = true
			}
		}
		if !any {
			return
		}
	}
}

// staysRounds is how often single starts are put back: what one makes room for, the next round finds.
const staysRounds = 2

// putBack is cur with the earlier start w in the place of the one nearest to it; nil where w is there, has no place, or does not
// go with the others.
func (s *solver) putBack(cur, warm []batchStart, w batchStart) []batchStart {
	if has(cur, w) {
		return nil
	}
	k := s.nearest(cur, warm, w)
	if k < 0 {
		return nil
	}
	next := append([]batchStart(nil), cur...)
	next[k] = w
	if len(s.apart(append([]batchStart(nil), next...))) < len(next) {
		return nil
	}
	return next
}

// dropNeedless leaves out starts without which the plan costs less: staying is no reason to brew what nobody needs.
func (s *solver) dropNeedless() {
	for k := 0; k < len(s.best); k++ {
		next := slices.Delete(slices.Clone(s.best), k, k+1)
		if c, ok := s.fit.fit(next, false); ok && c < s.cost {
			s.best, s.cost = next, c
			k = -1
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
