package batch

import (
	"cmp"
	"math"
	"slices"
)

// keepWarm restores starts of the earlier plan where that costs little, since changes disturb a kitchen: the whole plan if
// possible, else all starts of single beverages, then single starts, while the cost is within share of the cheapest plan's.
func (s *solver) keepWarm(warm []batchStart, share float64) {
	if len(warm) == 0 || share <= 0 || len(s.best) > maxFitStarts {
		return
	}
	defer s.dropRedundant()
	most := s.cost + share*math.Abs(s.cost)
	cur := append([]batchStart(nil), s.best...)
	accept := func(next []batchStart) bool {
		if len(s.dropConflicts(append([]batchStart(nil), next...))) < len(next) {
			return false
		}
		c, ok := s.sizeOrFit(next, most)
		if !ok {
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
	// Then single starts, the cheapest to restore first, to keep as many as the allowance permits.
	type back struct {
		w    batchStart
		cost float64
	}
	for range restoreRounds {
		var list []back
		for _, w := range warm {
			if next := s.restore(cur, warm, w); next != nil {
				if c, ok := s.sizeOrFit(next, most); ok {
					list = append(list, back{w, c})
				}
			}
		}
		slices.SortStableFunc(list, func(a, b back) int { return cmp.Compare(a.cost, b.cost) })
		any := false
		for _, b := range list {
			if next := s.restore(cur, warm, b.w); next != nil && accept(next) {
				any = true
			}
		}
		if !any {
			return
		}
	}
}

// restoreRounds is the number of passes over single starts: a restored start can make room for another.
const restoreRounds = 2

// restore is cur with the start nearest to w replaced by w; nil if cur contains w, nothing is near, or w conflicts with the rest.
func (s *solver) restore(cur, warm []batchStart, w batchStart) []batchStart {
	if contains(cur, w) {
		return nil
	}
	k := s.nearest(cur, warm, w)
	if k < 0 {
		return nil
	}
	next := append([]batchStart(nil), cur...)
	next[k] = w
	if len(s.dropConflicts(append([]batchStart(nil), next...))) < len(next) {
		return nil
	}
	return next
}

// dropRedundant removes starts without which the plan is cheaper: an earlier plan is not a reason to brew too much.
func (s *solver) dropRedundant() {
	for k := 0; k < len(s.best); k++ {
		next := slices.Delete(slices.Clone(s.best), k, k+1)
		if c, ok := s.sizeOrFit(next, s.cost); ok && c < s.cost {
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

func contains(starts []batchStart, w batchStart) bool {
	for _, b := range starts {
		if b.opt == w.opt && b.slot == w.slot {
			return true
		}
	}
	return false
}

// nearest is the index of the start of the same beverage closest in time to w and not in the earlier plan, -1 for none within
// two hours.
func (s *solver) nearest(starts, warm []batchStart, w batchStart) int {
	best, at := 1+120/s.p.in.SlotMin, -1
	for k, b := range starts {
		if s.p.opts[b.opt].bev != s.p.opts[w.opt].bev || contains(warm, b) {
			continue
		}
		if d := max(b.slot-w.slot, w.slot-b.slot); d < best {
			best, at = d, k
		}
	}
	return at
}
