package batch

import (
	"context"
	"math"
	"slices"
)

// Sizes of batches are chosen after the search over any grams, which gives the lower bound: its plan is rounded to whole sizes and
// improved (sizer), then simulated annealing over starts of whole sizes looks for a better one, since the best starts for two sizes
// are not those for any grams.

// sizesShare is the share of the budget for choosing sizes.
const sizesShare = 0.15

// sizeTolG is how far a start's grams may be from its size, g.
const sizeTolG = 1e-6

// nearest is the index of the size nearest to g g.
func (o *option) nearest(g float64) int {
	k, found := slices.BinarySearch(o.sizes, g)
	switch {
	case found || k == 0:
		return k
	case k == len(o.sizes) || g-o.sizes[k-1] < o.sizes[k]-g:
		return k - 1
	}
	return k
}

// IceOf is the ice that a batch of g g takes, g.
func (o *Option) IceOf(g float64) float64 {
	if o.SizesIceG == nil {
		return g * o.IcePerG
	}
	k, _ := slices.BinarySearch(o.SizesG, g-sizeTolG)
	return o.SizesIceG[min(k, len(o.SizesG)-1)]
}

// sizeAtMost is the largest size of at most g g, or the smallest.
func (o *option) sizeAtMost(g float64) float64 {
	k := o.nearest(g)
	if k > 0 && o.sizes[k] > g+sizeTolG {
		k--
	}
	return o.sizes[k]
}

// ice is the ice that a batch of g g takes, a whole size if the option has sizes.
func (o *option) ice(g float64) float64 {
	if o.sizesIce == nil {
		return g * o.icePerG
	}
	return o.sizesIce[o.nearest(g)]
}

// chooseSizes replaces the incumbent, of any grams, by one of whole sizes.
func (s *solver) chooseSizes(ctx context.Context, warm []batchStart) {
	p, free := s.p, s.best
	p.whole = true
	s.best = nil
	s.cost, _ = s.sizer.size(nil)
	s.tryStarts(append([]batchStart(nil), free...))
	if len(warm) > 0 { // no further search: a replan should stay close to the earlier plan
		s.tryStarts(append([]batchStart(nil), warm...))
		return
	}
	if len(p.opts) > 0 {
		s.anneal(ctx, s.budget, s.initialTemp(0.1), append([]batchStart(nil), s.best...))
	}
}

// sizeOrFit sets the grams of the starts, whole sizes once those are being chosen, and returns their cost. ok is false if it is above
// most, if they exceed the store or the ice, or if starts had to be dropped for them.
func (s *solver) sizeOrFit(starts []batchStart, most float64) (cost float64, ok bool) {
	if !s.p.whole {
		cost, ok = s.fit.fit(starts, false)
		return cost, ok && cost <= most
	}
	// Where store, ice or demand have changed, all sizes may have to: those near the best grams are a better beginning then. The cost of
	// the best grams is also a lower bound, which settles most cases.
	free := slices.Clone(starts)
	s.p.whole = false
	bound, fits := s.fit.fit(free, false)
	s.p.whole = true
	if fits && bound > most {
		return bound, false
	}
	cost, kept := s.sizer.size(starts)
	ok = kept == len(starts)
	if fits {
		if c, kept := s.sizer.size(free); kept == len(free) && (!ok || c < cost) {
			copy(starts, free)
			cost, ok = c, true
		}
	}
	return cost, ok && cost <= most
}

// sizer improves the sizes of given starts one by one and in pairs.
type sizer struct {
	p       *problem
	starts  []batchStart
	cost    []float64   // by beverage: of its batches, and of serving from them
	level   [][]float64 // by beverage: in the store at the end of each slot
	total   []float64   // of level
	iced    float64     // cost of ice shortage
	trial   []float64   // level of one beverage after a change
	take    []float64
	need    []float64
	lots    []lot
	order   []int
	stirred []float64 // by start: the ice that it takes within the horizon
	before  []served  // by beverage
	work    int
}

// served is how a beverage's lots have served the slots before some slot: what changes of later batches leave as it is.
type served struct {
	edf
	known bool
	at    []lot // scratch: the lots at that slot, with the present sizes of those to come
}

func newSizer(p *problem) *sizer {
	z := &sizer{p: p, cost: make([]float64, len(p.bevs)), total: make([]float64, p.slots), trial: make([]float64, p.slots), take: make([]float64, p.slots), need: make([]float64, p.slots+1), before: make([]served, len(p.bevs))}
	z.level = table(len(p.bevs), p.slots)
	return z
}

// size sets the grams of the starts to whole sizes, beginning with those nearest to the present ones, and returns their cost. Starts
// whose smallest size exceeds the store or the ice are dropped: the first kept ones of the slice remain.
func (z *sizer) size(starts []batchStart) (cost float64, kept int) {
	z.starts = append(z.starts[:0], starts...)
	for k := range z.starts {
		st := &z.starts[k]
		if o := &z.p.opts[st.opt]; o.sizes != nil {
			st.g = o.sizes[o.nearest(st.g)]
		}
	}
	z.repair()
	z.descend()
	copy(starts, z.starts)
	cost = z.iced
	for _, c := range z.cost {
		cost += c
	}
	return cost, len(z.starts)
}

// repair lowers sizes, then drops starts, until store and ice allow them.
func (z *sizer) repair() {
	p := z.p
	for {
		z.load()
		at := 0
		for at < p.slots && !z.exceeds(at, z.total[at]) {
			at++
		}
		icy := false
		if at == p.slots {
			if icy = !z.ice(); !icy {
				if z.lowerForLimits() {
					continue
				}
				return
			}
			at, _ = p.ice.bottleneck(z.need)
		}
		worst, most := -1, 0.0
		for k, st := range z.starts {
			o := &p.opts[st.opt]
			ready := st.slot + o.ready
			g := st.g
			if icy {
				if g = o.ice(st.g); st.slot+o.iceSlots < at {
					g = 0
				}
			} else if at < ready-o.early || at >= ready+p.bevs[o.bev].hold {
				g = 0
			}
			if g > most {
				worst, most = k, g
			}
		}
		if worst < 0 { // lots on hand alone; doing nothing is feasible
			z.starts = z.starts[:0]
			continue
		}
		st := &z.starts[worst]
		if o := &p.opts[st.opt]; o.sizes != nil && o.nearest(st.g) > 0 {
			st.g = o.sizes[o.nearest(st.g)-1]
		} else {
			z.starts = slices.Delete(z.starts, worst, worst+1)
		}
	}
}

// lowerForLimits lowers the size of a start, or drops it, that makes the least of a supply of which there is not enough; false if no
// limit is exceeded.
func (z *sizer) lowerForLimits() bool {
	p := z.p
	for i := range p.limits {
		l := &p.limits[i]
		at, _ := p.overLimit(l, z.starts)
		if at < 0 {
			continue
		}
		worst := -1
		for k, s := range z.starts {
			if s.slot >= l.From && s.slot <= at && p.takes(l, s) > 0 && (worst < 0 || p.lessWorth(l, z.starts, k, worst)) {
				worst = k
			}
		}
		if worst < 0 {
			continue
		}
		if !z.step(worst, -1) {
			z.starts = slices.Delete(z.starts, worst, worst+1)
		}
		return true
	}
	return false
}

// load works out costs and levels of all starts.
func (z *sizer) load() {
	clear(z.total)
	for i := range z.p.bevs {
		clear(z.level[i])
		z.cost[i] = z.beverage(i, z.level[i])
		for t, g := range z.level[i] {
			z.total[t] += g
		}
	}
}

// beverage is the cost of beverage i's batches and of serving from them; the store's level is added to level.
func (z *sizer) beverage(i int, level []float64) float64 {
	p := z.p
	z.work += 1 + p.slots/140
	z.lots = p.lots(i, z.starts, z.lots)
	return z.making(i) + p.bevs[i].serveEDF(z.lots, level, nil, nil)
}

// making is the cost of beverage i's batches.
func (z *sizer) making(i int) float64 {
	cost := 0.0
	for _, s := range z.starts {
		if o := &z.p.opts[s.opt]; o.bev == i {
			cost += o.fixed + z.p.bevs[i].unit*s.g
		}
	}
	return cost
}

// inStore is the first slot in which the batch of start k is in the store.
func (z *sizer) inStore(k int) int {
	o := &z.p.opts[z.starts[k].opt]
	return max(0, z.starts[k].slot+o.ready-o.early)
}

// from is beverage, from a slot on: only batches in the store from then on may have changed since the last descend began.
func (z *sizer) from(i, slot int, level []float64) float64 {
	p := z.p
	b, s := &p.bevs[i], &z.before[i]
	z.work += 1 + p.slots/140
	if !s.known || s.t > slot {
		s.lots = p.lots(i, z.starts, s.lots)
		s.edf = edf{lots: s.lots}
		s.known = true
	}
	s.renew(z.starts)
	s.serve(b, slot, nil, nil, nil)
	s.at = append(s.at[:0], s.lots...)
	clear(level[slot:])
	for k := range s.at {
		s.at[k].addEarly(level, slot)
	}
	e := s.edf
	e.lots = s.at
	e.serve(b, p.slots, level, nil, nil)
	return z.making(i) + e.finish(b)
}

// renew sets the lots to come to the present sizes of their starts.
func (s *served) renew(starts []batchStart) {
	for k := range s.lots {
		if l := &s.lots[k]; l.start >= 0 && l.ready >= s.t {
			l.g = starts[l.start].g
		}
	}
}

func (z *sizer) exceeds(t int, g float64) bool { return g > z.p.store[t]*(1+1e-12)+1e-6 }

// ice sets the cost of ice shortage and reports whether all batches get their ice.
func (z *sizer) ice() (ok bool) {
	z.iced = 0
	if z.p.ice == nil {
		return true
	}
	z.p.iceTaken(z.starts, z.take)
	z.iced, ok = z.p.ice.run(z.take, z.need, nil)
	return ok
}

// descend changes single sizes, and pairs of the same beverage, while that lowers the cost.
func (z *sizer) descend() {
	p := z.p
	z.order = z.order[:0]
	for k := range z.starts {
		z.order = append(z.order, k)
		for a := len(z.order) - 1; a > 0 && z.starts[z.order[a]].slot < z.starts[z.order[a-1]].slot; a-- {
			z.order[a], z.order[a-1] = z.order[a-1], z.order[a]
		}
	}
	for i := range z.before {
		z.before[i].known = false
	}
	z.stirred = z.stirred[:0]
	for k := range z.starts {
		z.stirred = append(z.stirred, z.iceOf(k))
	}
	for range descents {
		better := false
		for n, k := range z.order {
			o := &p.opts[z.starts[k].opt]
			if o.sizes == nil {
				continue
			}
			for _, step := range sizeSteps {
				better = z.change(k, step, -1, 0) || better
			}
			for _, j := range z.order[n+1:] { // the next batch of the beverage
				if q := &p.opts[z.starts[j].opt]; q.bev == o.bev {
					if q.sizes != nil {
						better = z.change(k, 1, j, -1) || z.change(k, -1, j, 1) || better
					}
					break
				}
			}
		}
		if !better {
			return
		}
	}
}

// descents bounds the passes over the starts.
const descents = 8

// sizeSteps are the changes tried, in sizes.
var sizeSteps = [...]int{1, -1, 3, -3}

// change moves start k, and start j of the same beverage unless that is -1, by steps sizes if that lowers the cost, and reports whether
// it did.
func (z *sizer) change(k, step, j, other int) bool {
	p := z.p
	i := p.opts[z.starts[k].opt].bev
	was, wasOther, iced := z.starts[k].g, 0.0, z.iced
	if j >= 0 {
		wasOther = z.starts[j].g
		if !z.step(j, other) {
			return false
		}
	}
	if !z.step(k, step) {
		if j >= 0 {
			z.starts[j].g = wasOther
		}
		return false
	}
	from := z.inStore(k)
	if j >= 0 {
		from = min(from, z.inStore(j))
	}
	cost := z.from(i, from, z.trial)
	ok := cost-z.cost[i] < z.iced // without any ice shortage it must be cheaper
	if ok {
		for t := from; t < p.slots; t++ {
			if d := z.trial[t] - z.level[i][t]; d > 0 && z.exceeds(t, z.total[t]+d) {
				ok = false
				break
			}
		}
	}
	if ok && (step > 0 || other > 0) {
		ok = p.withinLimits(z.starts)
	}
	if ok {
		least := z.cost[i] + iced - 1e-9*max(1, math.Abs(cost))
		ok = z.iceAfter(k, j, cost, least) && cost+z.iced < least
	}
	if !ok {
		z.starts[k].g, z.iced = was, iced
		if j >= 0 {
			z.starts[j].g = wasOther
		}
		return false
	}
	z.cost[i] = cost
	for t := from; t < p.slots; t++ {
		z.total[t] += z.trial[t] - z.level[i][t]
	}
	copy(z.level[i][from:], z.trial[from:])
	z.stirred[k] = z.iceOf(k)
	if j >= 0 {
		z.stirred[j] = z.iceOf(j)
	}
	return true
}

// iceOf is the ice that the batch of start k takes within the horizon, g.
func (z *sizer) iceOf(k int) float64 {
	o := &z.p.opts[z.starts[k].opt]
	if z.p.ice == nil || z.starts[k].slot+o.iceSlots >= z.p.slots {
		return 0
	}
	return o.ice(z.starts[k].g)
}

// iceAfter sets the cost of ice shortage after a change of the sizes of starts k and j (-1: none), and reports whether all batches get
// their ice; false also if the cost of all, with cost for the beverage, is not below most in any case.
func (z *sizer) iceAfter(k, j int, cost, most float64) bool {
	p := z.p
	if p.ice == nil {
		return true
	}
	now, other := z.iceOf(k), 0.0
	more, less := now > z.stirred[k], now < z.stirred[k]
	if j >= 0 {
		other = z.iceOf(j)
		more, less = more || other > z.stirred[j], less || other < z.stirred[j]
	}
	switch {
	case !more && (!less || z.iced == 0):
		return true
	case !less && cost+z.iced >= most:
		return false
	}
	clear(z.take)
	for n, s := range z.starts {
		g := z.stirred[n]
		switch n {
		case k:
			g = now
		case j:
			g = other
		}
		if t := s.slot + p.opts[s.opt].iceSlots; t < p.slots {
			z.take[t] += g
		}
	}
	var ok bool
	z.iced, ok = p.ice.run(z.take, z.need, nil)
	return ok
}

// step moves start k by n sizes; false if there are none.
func (z *sizer) step(k, n int) bool {
	o := &z.p.opts[z.starts[k].opt]
	if o.sizes == nil {
		return false
	}
	at := o.nearest(z.starts[k].g) + n
	if at < 0 || at >= len(o.sizes) {
		return false
	}
	z.starts[k].g = o.sizes[at]
	return true
}
