package batch

// move applies a random move to the starts in place, which may add or remove one, and reports whether the result fits brewers
// and people.
func (s *solver) move(st []batchStart) ([]batchStart, bool) {
	p := s.p
	if len(st) == 0 {
		return s.insert(st)
	}
	k := s.rng.IntN(len(st))
	switch s.rng.IntN(13) {
	case 0:
		return s.insert(st)
	case 1:
		st[k] = st[len(st)-1]
		return st[:len(st)-1], true
	case 2: // change the brewer
		o := s.rng.IntN(len(p.opts))
		if o == st[k].opt || p.opts[o].bev != p.opts[st[k].opt].bev {
			return st, false
		}
		st[k].opt = o
		return st, s.place(st, k, st[k].slot, s.direction())
	case 3: // swap two starts
		j := s.rng.IntN(len(st))
		if k == j || p.opts[st[k].opt].bev == p.opts[st[j].opt].bev {
			return st, false
		}
		return st, s.swap(st, k, j)
	case 4: // shift two starts
		j := s.rng.IntN(len(st))
		if k == j {
			return st, false
		}
		return st, s.place(st, k, st[k].slot+s.step(), s.direction()) && s.place(st, j, st[j].slot+s.step(), s.direction())
	case 5: // replace by a random batch
		st[k].opt = s.rng.IntN(len(p.opts))
		return st, s.place(st, k, s.rng.IntN(p.slots), s.direction())
	case 6: // another option at the same time
		st[k].opt = s.rng.IntN(len(p.opts))
		return st, s.place(st, k, st[k].slot, s.direction())
	case 7: // shift it and all later starts of the beverage
		return st, s.shiftRest(st, k, s.step())
	default:
		step := s.step()
		side := 1
		if step < 0 {
			side = -1
		}
		return st, s.place(st, k, st[k].slot+step, side)
	}
}

func (s *solver) direction() int { return 1 - 2*s.rng.IntN(2) }

// step is a random number of slots to shift by, mostly small, never 0.
func (s *solver) step() int {
	n := 1 + s.rng.IntN(1+s.rng.IntN(5))
	return n * s.direction()
}

func (s *solver) insert(st []batchStart) ([]batchStart, bool) {
	st = append(st, batchStart{opt: s.rng.IntN(len(s.p.opts))})
	return st, s.place(st, len(st)-1, s.rng.IntN(s.p.slots), s.direction())
}

// shiftRest shifts start k and all later starts of its beverage by step slots.
func (s *solver) shiftRest(st []batchStart, k, step int) bool {
	bev, from := s.p.opts[st[k].opt].bev, st[k].slot
	side := 1
	if step < 0 {
		side = -1
	}
	for j := range st {
		if s.p.opts[st[j].opt].bev == bev && st[j].slot >= from {
			st[j].slot += step
			if t := st[j].slot; t < 0 || t >= s.p.slots || !s.p.opts[st[j].opt].canStart[t] {
				return false
			}
		}
	}
	for j := range st {
		if s.p.opts[st[j].opt].bev == bev && st[j].slot >= from+step && !s.place(st, j, st[j].slot, side) {
			return false
		}
	}
	return true
}

// swap swaps two starts in time, each on its own brewer.
func (s *solver) swap(st []batchStart, k, j int) bool {
	if st[k].slot > st[j].slot {
		k, j = j, k
	}
	ok, oj := &s.p.opts[st[k].opt], &s.p.opts[st[j].opt]
	first, second := st[k].slot, st[j].slot
	if ok.brewer == oj.brewer {
		second = max(first+oj.busy, second+oj.busy-ok.busy) // starts back to back remain so
	}
	st[j].slot, st[k].slot = first, second
	return s.place(st, j, first, 1) && s.place(st, k, second, 1)
}

// place moves start k to a slot and pushes starts in conflict on the brewer or for the people later (side 1) or earlier (side
// -1), recursively. It reports whether all have a place.
func (s *solver) place(st []batchStart, k, slot, side int) bool {
	p := s.p
	if slot < 0 || slot >= p.slots || !p.opts[st[k].opt].canStart[slot] {
		return false
	}
	st[k].slot = slot
	todo := append(s.todo[:0], k)
	for n := 0; n < len(todo); n++ {
		i := todo[n]
		o := &p.opts[st[i].opt]
		people := 1
		for j := range st {
			if j == i {
				continue
			}
			q := &p.opts[st[j].opt]
			to := st[j].slot
			if q.brewer == o.brewer && st[i].slot < to+q.busy && to < st[i].slot+o.busy {
				if side > 0 {
					to = st[i].slot + o.busy
				} else {
					to = st[i].slot - q.busy
				}
			} else if to == st[i].slot {
				if people++; people <= p.people[to] {
					continue
				}
				to += side
			} else {
				continue
			}
			for to >= 0 && to < p.slots && !q.canStart[to] {
				to += side
			}
			if to < 0 || to >= p.slots || j == k || len(todo) > 12 {
				s.todo = todo
				return false
			}
			st[j].slot = to
			todo = append(todo, j)
		}
	}
	s.todo = todo
	return !p.limited() || p.shortOf(st, s.used) == Enough
}

// canPlace reports whether a start fits brewers, people and baths beside the others, except start skip.
func (s *solver) canPlace(starts []batchStart, opt, slot, skip int) bool {
	o := &s.p.opts[opt]
	if slot < 0 || slot >= s.p.slots || !o.canStart[slot] {
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
	return same <= s.p.people[slot] && (!s.p.limited() || s.leftFor(starts, opt, slot, skip))
}

// settleWithin is how many slots settle moves a start.
const settleWithin = 4

// settle is dropConflicts, but where work and baths are limited a start in conflict with earlier ones first tries the slots near its
// own: the plan of a single beverage does not know that its batches need the same hands.
func (s *solver) settle(starts []batchStart) []batchStart {
	if !s.p.limited() {
		return s.dropConflicts(starts)
	}
	kept := starts[:0]
	for _, st := range starts {
		for d := 0; d <= 2*settleWithin; d++ {
			slot := st.slot + (d+1)/2*(1-d%2*2)
			if s.canPlace(kept, st.opt, slot, -1) {
				st.slot = slot
				kept = append(kept, st)
				break
			}
		}
	}
	return kept
}

// leftFor reports whether the starts, except start skip, leave work and baths for another.
func (s *solver) leftFor(starts []batchStart, opt, slot, skip int) bool {
	clear(s.used.work)
	clear(s.used.baths)
	for k, other := range starts {
		if k != skip {
			s.used.add(s.p, other)
		}
	}
	return s.used.leaves(s.p, opt, slot)
}
