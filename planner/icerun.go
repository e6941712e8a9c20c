package planner

import (
	"cmp"
	"slices"

	"hotday/models"
	"hotday/planner/risk"
)

// live runs the bin over the slots with the given loads: makers run whenever they may, what later batches need is kept back,
// the rest serves the glasses. A load that the bin has no room for waits until it has.
func (s *iceStream) live(loads []load) iceRun {
	n := s.slots
	run := iceRun{level: make([]float64, n), made: make([]float64, n), taken: make([]float64, n), short: make([]float64, n),
		lack: make([]float64, n), melted: make([]float64, n), late: make([]int, len(loads))}
	makes := s.makeable()
	due := make([][]int, n+1)
	inflow := make([]float64, n)
	for k, l := range loads {
		run.late[k] = n
		if l.take < n {
			due[l.take] = append(due[l.take], k)
			inflow[l.take] += l.g
		}
	}
	need := s.keptBack(makes, inflow)
	level := s.opening
	var waiting []int
	for t := range n {
		run.melted[t] = level * (1 - s.keep)
		have := level * s.keep
		waiting = append(waiting, due[t]...)
		rest := waiting[:0]
		use := s.stir[t] + s.serve[t]
		for _, k := range waiting {
			u := &s.units[loads[k].unit]
			if u.mayTake[t] && have+run.taken[t]+loads[k].g-use <= s.capacity+1e-9 {
				run.taken[t] += loads[k].g
				run.late[k] = t
			} else {
				rest = append(rest, k)
			}
		}
		waiting = rest
		have += run.taken[t]
		all := have + makes[t]
		stir := min(s.stir[t], all)
		run.lack[t] = s.stir[t] - stir
		serve := min(s.serve[t], max(0, all-stir-need[t+1]))
		run.short[t] = s.serve[t] - serve
		run.made[t] = min(makes[t], max(0, s.capacity-(have-stir-serve)))
		level = max(0, have+run.made[t]-stir-serve)
		run.level[t] = level
	}
	return run
}

// makeable is what all makers can give, by slot.
func (s *iceStream) makeable() []float64 {
	out := make([]float64, s.slots)
	for _, m := range s.makers {
		for t, g := range m.g {
			out[t] += g
		}
	}
	return out
}

// keptBack is the ice wanted at the start of each slot so that all batches from it on can have theirs.
func (s *iceStream) keptBack(makes, inflow []float64) []float64 {
	need := make([]float64, s.slots+1)
	for t := s.slots - 1; t >= 0; t-- {
		need[t] = min(max(0, need[t+1]+s.stir[t]-makes[t]-inflow[t])/s.keep, s.capacity)
	}
	return need
}

// choose picks whole loads, each as late as it still prevents a shortage, and leaves the run with them.
func (s *iceStream) choose() {
	s.loads = nil
	for k := range s.units { // what is frozen already is taken as soon as somebody is there
		if u := &s.units[k]; u.busyUntil > 0 {
			if t := nextTrue(u.mayTake, u.busyUntil); t < s.slots {
				s.loads = append(s.loads, load{unit: k, fill: -1, fillAt: u.underWayAt, take: t, g: u.underWayG})
			}
		}
	}
	s.run = s.live(s.loads)
	if len(s.units) == 0 {
		return
	}
	s.addLoads(nil)
	if s.surge != nil { // ice is cheap and nothing is served without it: forms are filled for a bad day, too
		bad := s.badDay()
		bad.run = bad.live(bad.loads)
		bad.addLoads(s)
		s.loads = bad.loads
		s.run = s.live(s.loads)
	}
	for k, t := range s.run.late { // as the bin has room for them
		s.loads[k].take = t
	}
	s.loads = slices.DeleteFunc(s.loads, func(l load) bool { return l.take >= s.slots })
	slices.SortStableFunc(s.loads, func(a, b load) int {
		return cmp.Or(cmp.Compare(a.take, b.take), cmp.Compare(a.unit, b.unit))
	})
	s.run = s.live(s.loads)
}

// addLoads adds whole loads, each as late as it still prevents a shortage. On a usual day, where one is given, they must have
// room, too.
func (s *iceStream) addLoads(usual *iceStream) {
	hopeless := -1 // no load can mend shortages up to here
	for range 4 * s.slots {
		at := -1
		for t := hopeless + 1; t < s.slots; t++ {
			if s.run.short[t]+s.run.lack[t] > 0.5 {
				at = t
				break
			}
		}
		if at < 0 {
			break
		}
		best := s.latestLoad(at)
		if best.take < 0 {
			hopeless = at
			continue
		}
		next := append(slices.Clone(s.loads), best)
		run := s.live(next)
		// The bin has no room then, and the load before would still be in its form.
		if s.overlap(next, run.late) || usual != nil && usual.overlap(next, usual.live(next).late) {
			hopeless = at
			continue
		}
		if models.Sum(run.short)+models.Sum(run.lack) >= models.Sum(s.run.short)+models.Sum(s.run.lack)-0.5 {
			hopeless = at
			continue
		}
		s.loads, s.run = next, run
	}
}

// A day that is bad for ice: the demand that one day in two hundred exceeds, makers and the opening stock at what one in twenty
// falls below by the assumptions of the simulated days.
const (
	surgeLevel = 0.995
	badScore   = 1.645
)

// badDay is the stream on such a day, with the loads chosen so far.
func (s *iceStream) badDay() *iceStream {
	a := risk.Assumed()
	bad := *s
	bad.serve = s.surge
	bad.opening *= max(0, 1-badScore*a.CountSDAt(s.countAgeH))
	bad.makers = slices.Clone(s.makers)
	for i := range bad.makers {
		g := slices.Clone(s.makers[i].g)
		for t := range g {
			g[t] *= 1 - badScore*a.OutputSD
		}
		bad.makers[i].g = g
	}
	return &bad
}

// latestLoad is the load that can be taken last, yet at or before slot at, on a unit free until then; take is −1 where none is.
func (s *iceStream) latestLoad(at int) load {
	best := load{take: -1}
	for k := range s.units {
		u := &s.units[k]
		for take := at; take > best.take; take-- {
			if !u.mayTake[take] {
				continue
			}
			fill := take - u.freezeSlots
			for fill >= 0 && !u.mayFill[fill] {
				fill--
			}
			if fill < 0 {
				break
			}
			if s.unitFree(k, fill, take) {
				best = load{unit: k, fill: fill, take: take, g: u.loadG}
				break
			}
		}
	}
	return best
}

// overlap reports whether a unit would be filled while a load is still in it. late are the slots in which loads are taken out.
func (s *iceStream) overlap(loads []load, late []int) bool {
	for i, a := range loads {
		for k, b := range loads[:i] {
			if a.unit == b.unit && a.fill < max(b.take, late[k]) && b.fill < max(a.take, late[i]) {
				return true
			}
		}
	}
	return false
}

// unitFree reports whether unit k has no other load between fill and take. It may be filled in the slot in which it is emptied.
func (s *iceStream) unitFree(k, fill, take int) bool {
	for i, l := range s.loads {
		if l.unit != k {
			continue
		}
		end := max(l.take, s.run.late[i])
		if fill < end && l.fill < take {
			return false
		}
	}
	return true
}
