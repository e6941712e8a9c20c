package batch

// move changes the starts a little, in place or longer or shorter by one, and says whether the result fits brewers and
// people.
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
	case 2: // another brewer
		o := s.rng.IntN(len(p.opts))
		if o == st[k].opt || p.opts[o].bev != p.opts[st[k].opt].bev {
			return st, false
		}
		st[k].opt = o
		return st, s.place(st, k, st[k].slot, s.side())
	case 3: // two starts change places
		j := s.rng.IntN(len(st))
		if k == j || p.opts[st[k].opt].bev == p.opts[st[j].opt].bev {
			return st, false
		}
		return st, s.exchange(st, k, j)
	case 4: // two move
		j := s.rng.IntN(len(st))
		if k == j {
			return st, false
		}
		return st, s.place(st, k, st[k].slot+s.step(), s.side()) && s.place(st, j, st[j].slot+s.step(), s.side())
	case 5: // another batch instead
		st[k].opt = s.rng.IntN(len(p.opts))
		return st, s.place(st, k, s.rng.IntN(p.slots), s.side())
	case 6: // another beverage at the same time
		st[k].opt = s.rng.IntN(len(p.opts))
		return st, s.place(st, k, st[k].slot, s.side())
	case 7: // it and all later ones of the beverage
		return st, s.shiftOn(st, k, s.step())
	default:
		step := s.step()
		side := 1
		if step < 0 {
			side = -1
		}
		return st, s.place(st, k, st[k].slot+step, side)
	}
}

func (s *solver) side() int { return 1 - 2*s.rng.IntN(2) }

// step is a number of slots to move, small ones more often, never 0.
func (s *solver) step() int {
	n := 1 + s.rng.IntN(1+s.rng.IntN(5))
	return n * s.side()
}

func (s *solver) insert(st []batchStart) ([]batchStart, bool) {
	st = append(st, batchStart{opt: s.rng.IntN(len(s.p.opts))})
	return st, s.place(st, len(st)-1, s.rng.IntN(s.p.slots), s.side())
}

// shiftOn moves start k and all later ones of its beverage by step slots.
func (s *solver) shiftOn(st []batchStart, k, step int) bool {
	bev, from := s.p.opts[st[k].opt].bev, st[k].slot
	side := 1
	if step < 0 {
		side = -1
	}
	for j := range st {
		if s.p.opts[st[j].opt].bev == bev && st[j].slot >= from {
			st[j].slot += step
			if t := st[j].slot; t < 0 || t >= s.p.slots || !s.p.opts[st[j].opt].may[t] {
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

// exchange lets two starts take each other's place in time, on their own brewers or, where both can, on each other's.
func (s *solver) exchange(st []batchStart, k, j int) bool {
	if st[k].slot > st[j].slot {
		k, j = j, k
	}
	ok, oj := &s.p.opts[st[k].opt], &s.p.opts[st[j].opt]
	first, second := st[k].slot, st[j].slot
	if ok.brewer == oj.brewer {
		second = max(first+oj.busy, second+oj.busy-ok.busy) // back to back they stay so
	}
	st[j].slot, st[k].slot = first, second
	return s.place(st, j, first, 1) && s.place(st, k, second, 1)
}

// place sets start k to a slot and pushes aside, later (side 1) or earlier (side -1), what is in its way on the brewer or
// for the people, and what is in the way of that. It says whether all found a place.
func (s *solver) place(st []batchStart, k, slot, side int) bool {
	p := s.p
	if slot < 0 || slot >= p.slots || !p.opts[st[k].opt].may[slot] {
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
			for to >= 0 && to < p.slots && !q.may[to] {
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
	return true
}

// free says whether the start fits brewers and people beside the others, start skip left out.
func (s *solver) free(starts []batchStart, opt, slot, skip int) bool {
	o := &s.p.opts[opt]
	if slot < 0 || slot >= s.p.slots || !o.may[slot] {
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
	return same <= s.p.people[slot]
}
