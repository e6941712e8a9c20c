package planner

import (
	"slices"

	"hotday/models"
	"hotday/planner/risk"
)

// runBin runs the bin over the slots with the given loads. Machines run whenever they can, ice that later batches need is reserved, and
// the rest goes into drinks. A load waits while the bin has no room for it.
func (s *iceStream) runBin(loads []load) iceRun {
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
	need := s.reserved(makes, inflow)
	level := s.opening
	var waiting []int
	for t := range n {
		run.melted[t] = level * (1 - s.keep)
		have := level * s.keep
		waiting = append(waiting, due[t]...)
		rest := waiting[:0]
		use := s.reservedUse(t) + s.serve[t]
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
		stir := min(s.reservedUse(t), all)
		run.lack[t] = s.reservedUse(t) - stir
		serve := min(s.serve[t], max(0, all-stir-need[t+1]))
		run.short[t] = s.serve[t] - serve
		run.made[t] = min(makes[t], max(0, s.capacity-(have-stir-serve)))
		level = max(0, have+run.made[t]-stir-serve)
		run.level[t] = level
	}
	return run
}

// reservedUse is the ice of a slot that comes before drinks, g: stirred into batches, and for their baths.
func (s *iceStream) reservedUse(t int) float64 { return s.stir[t] + s.bath[t] }

// makeable returns the most that all machines can make, g by slot.
func (s *iceStream) makeable() []float64 {
	out := make([]float64, s.slots)
	for _, m := range s.makers {
		for t, g := range m.g {
			out[t] += g
		}
	}
	return out
}

// reserved returns the ice required at the start of each slot so that every later batch gets its ice, g.
func (s *iceStream) reserved(makes, inflow []float64) []float64 {
	need := make([]float64, s.slots+1)
	for t := s.slots - 1; t >= 0; t-- {
		need[t] = min(max(0, need[t+1]+s.reservedUse(t)-makes[t]-inflow[t])/s.keep, s.capacity)
	}
	return need
}

// choose picks whole loads, each as late as possible while still preventing a shortage, and runs the bin with them.
func (s *iceStream) choose() {
	s.loads = nil
	for k := range s.units { // loads already freezing are emptied as soon as somebody is there
		if u := &s.units[k]; u.busyUntil > 0 {
			if t := nextTrue(u.mayTake, u.busyUntil); t < s.slots {
				s.loads = append(s.loads, load{unit: k, fill: -1, fillAt: u.underWayAt, take: t, g: u.underWayG})
			}
		}
	}
	s.run = s.runBin(s.loads)
	if len(s.units) == 0 {
		return
	}
	s.addLoads(nil)
	if s.surge != nil { // ice is cheap and no drink is served without it, so trays are filled for a bad day too
		bad := s.badDay()
		bad.run = bad.runBin(bad.loads)
		bad.addLoads(s)
		s.loads = bad.loads
		s.run = s.runBin(s.loads)
	}
	for k, t := range s.run.late { // when the bin has room for them
		s.loads[k].take = t
	}
	s.loads = slices.DeleteFunc(s.loads, func(l load) bool { return l.take >= s.slots })
	s.sortLoads()
	s.run = s.runBin(s.loads)
	s.together()
}

// addLoads adds whole loads, each as late as possible while still preventing a shortage. They must also fit on the usual day, if one
// is given.
func (s *iceStream) addLoads(usual *iceStream) {
	unfixable := -1 // no load prevents shortages up to this slot
	for range 4 * s.slots {
		at := -1
		for t := unfixable + 1; t < s.slots; t++ {
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
			unfixable = at
			continue
		}
		next := append(slices.Clone(s.loads), best)
		run := s.runBin(next)
		// The bin would be full, with the load before still in its tray.
		if s.overlap(next, run.late) || usual != nil && usual.overlap(next, usual.runBin(next).late) {
			unfixable = at
			continue
		}
		if models.Sum(run.short)+models.Sum(run.lack) >= models.Sum(s.run.short)+models.Sum(s.run.lack)-0.5 {
			unfixable = at
			continue
		}
		s.loads, s.run = next, run
	}
}

// A bad day for ice: demand exceeded on 1 day in 200, with ice machines and opening stock at their 5% quantiles under the assumptions
// of the simulation.
const (
	surgeLevel = 0.995
	badScore   = 1.645
)

// badDay returns the stream on a bad day, with the loads chosen so far.
func (s *iceStream) badDay() *iceStream {
	a := risk.DefaultAssumptions()
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

// latestLoad returns the load that can be emptied last, at or before slot at, on a tray free until then; take is −1 if there is none.
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

// overlap reports whether a tray would be filled while a load is still in it. late holds the slots in which loads come out.
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

// unitFree reports whether tray k holds no other load between fill and take. A tray may be refilled in the slot it is emptied in.
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
