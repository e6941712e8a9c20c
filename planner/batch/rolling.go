package batch

import "context"

// day is a run of slots with demand, separated from others by hours without.
type day struct {
	from, to int
}

// dayGapMin is the shortest time without demand that separates two days, minutes.
const dayGapMin = 180

// days splits the horizon at long gaps in demand.
func (p *problem) days() []day {
	gap := max(1, dayGapMin/p.in.SlotMin)
	var out []day
	last := -1 - gap
	for t := 0; t < p.slots; t++ {
		asked := false
		for i := range p.bevs {
			asked = asked || p.bevs[i].demand[t] > 0
		}
		if !asked {
			continue
		}
		if t-last > gap {
			out = append(out, day{from: t})
		}
		out[len(out)-1].to = t + 1
		last = t
	}
	return out
}

// rollHorizon is a rolling-horizon heuristic: it plans day by day, with the earlier days fixed. Over a long horizon that finds a good
// plan with little work.
func (s *solver) rollHorizon(ctx context.Context, days []day, limit int) {
	var fixed []batchStart
	for n, d := range days {
		if ctx.Err() != nil || s.work() >= limit {
			break
		}
		sub := s.p.window(fixed, days, n)
		part := newSolver(sub, s.rng.Uint64(), (limit-s.work())/(len(days)-n))
		part.greedy(ctx, part.budget)
		s.spent += part.work()
		for _, b := range part.best {
			b.slot += s.p.firstStart(d)
			fixed = append(fixed, b)
		}
	}
	s.tryStarts(s.repair(s.settle(fixed)))
}

// firstStart is the earliest slot in which a batch for the day may have to start.
func (p *problem) firstStart(d day) int {
	ready := 0
	for k := range p.opts {
		ready = max(ready, p.opts[k].ready)
	}
	return max(0, d.from-ready-1)
}

// window is the problem of day n, from firstStart on, with the starts for earlier days fixed.
func (p *problem) window(fixed []batchStart, days []day, n int) *problem {
	d := days[n]
	from, to := p.firstStart(d), d.to
	if n == len(days)-1 {
		to = p.slots
	}
	sub := &problem{in: p.in, slots: to - from, brewer: p.brewer}
	busy := make([][]bool, p.brewer)
	for b := range busy {
		busy[b] = make([]bool, p.slots)
	}
	sub.people = append([]int(nil), p.people[from:to]...)
	sub.work, sub.baths = p.left(fixed)
	if sub.baths != nil {
		sub.baths = sub.baths[from:to]
	}
	for _, s := range fixed {
		o := &p.opts[s.opt]
		for t := s.slot; t < s.slot+o.busy; t++ {
			busy[o.brewer][t] = true
		}
		if s.slot >= from && s.slot < to {
			sub.people[s.slot-from] = max(0, sub.people[s.slot-from]-1)
		}
	}
	for _, o := range p.opts {
		sub.opts = append(sub.opts, o.within(from, to, busy[o.brewer], sub.people))
	}
	sub.store, sub.early = append([]float64(nil), p.store[from:to]...), make([]float64, to-from)
	for i := range p.bevs {
		sub.bevs = append(sub.bevs, p.windowBeverage(i, fixed, from, d.from, to, sub.store, sub.early))
	}
	if p.ice != nil {
		sub.ice = p.windowIce(fixed, from, to)
	}
	sub.limits, sub.taken = p.windowLimits(fixed, from, to), make([]float64, sub.slots)
	return sub
}

// within is the option restricted to slots [from, to) in which the brewer is free and people are left.
func (o option) within(from, to int, busy []bool, people []int) option {
	may := make([]bool, to-from)
	for t := range may {
		may[t] = o.canStart[from+t] && people[t] > 0 && from+t+o.ready < to && from+t+o.busy <= to
		for k := from + t; may[t] && k < from+t+o.busy; k++ {
			may[t] = !busy[k]
		}
	}
	o.canStart = may
	if o.work != nil {
		o.work = o.work[from:to]
	}
	return o
}

// windowBeverage is beverage i in slots [from, to), with demand from slot day on. Stock left by fixed starts and opening lots at
// that time becomes opening lots, added to early while they are not ready; their stock before it is subtracted from the store.
func (p *problem) windowBeverage(i int, fixed []batchStart, from, day, to int, store, early []float64) beverage {
	b := p.bevs[i]
	out := b
	out.demand = make([]float64, to-from)
	copy(out.demand[day-from:], b.demand[day:to])
	out.cum = make([]float64, to-from+1)
	for t, d := range out.demand {
		out.cum[t+1] = out.cum[t] + d
	}
	if to < p.slots && b.cum[min(p.slots, to+b.hold)] <= b.cum[to] {
		out.credit = -b.disposal // no more demand for what is left
	} else if to < p.slots {
		out.credit = b.unit / 2
	}
	out.carry = to - from
	if to == p.slots {
		out.carry = b.carry - from
	}
	past := b
	past.demand = b.demand[:day]
	lots := p.lots(i, fixed, nil)
	level := make([]float64, day)
	past.serveEDF(lots, level, nil, nil)
	for t := from; t < day; t++ {
		store[t-from] = max(0, store[t-from]-level[t])
	}
	out.opening = nil
	for _, l := range lots {
		if l.g > 1e-6 && l.expires > day && l.ready < to {
			l.early = min(l.early, max(0, l.ready-day))
			l.ready, l.expires, l.start = max(l.ready, day)-from, l.expires-from, -1
			out.opening = append(out.opening, l)
			l.addEarly(early, 0)
		}
	}
	return out
}

// windowIce is the bin in slots [from, to), less the ice taken by fixed starts.
func (p *problem) windowIce(fixed []batchStart, from, to int) *iceBin {
	b := *p.ice
	taken, need := make([]float64, p.slots), make([]float64, p.slots+1)
	p.iceTaken(fixed, taken)
	if b.fixedTake != nil {
		for t := range taken {
			taken[t] += b.fixedTake[t]
		}
	}
	run := &iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)}
	all := b
	all.fixedTake = nil
	all.run(taken, need, run)
	if from > 0 {
		b.opening = run.level[from-1]
	}
	b.make, b.serve, b.fixedTake = b.make[from:to], b.serve[from:to], taken[from:to]
	return &b
}
