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

// sizeOrFit sets the grams of the starts, whole sizes once those are being chosen, and returns their cost. ok is false if they exceed the
// store or the ice, or if starts had to be dropped for them.
func (s *solver) sizeOrFit(starts []batchStart) (cost float64, ok bool) {
	if !s.p.whole {
		return s.fit.fit(starts, false)
	}
	free := slices.Clone(starts)
	cost, kept := s.sizer.size(starts)
	ok = kept == len(starts)
	// Where store, ice or demand have changed, all sizes may have to: those near the best grams are a better beginning then.
	s.p.whole = false
	_, fits := s.fit.fit(free, false)
	s.p.whole = true
	if !fits {
		return cost, ok
	}
	if c, kept := s.sizer.size(free); kept == len(free) && (!ok || c < cost) {
		copy(starts, free)
		cost, ok = c, true
	}
	return cost, ok
}

// sizer improves the sizes of given starts one by one and in pairs.
type sizer struct {
	p      *problem
	starts []batchStart
	cost   []float64   // by beverage: of its batches, and of serving from them
	level  [][]float64 // by beverage: in the store at the end of each slot
	total  []float64   // of level
	iced   float64     // cost of ice shortage
	trial  []float64   // level of one beverage after a change
	take   []float64
	need   []float64
	lots   []lot
	order  []int
	work   int
}

func newSizer(p *problem) *sizer {
	z := &sizer{p: p, cost: make([]float64, len(p.bevs)), total: make([]float64, p.slots), trial: make([]float64, p.slots), take: make([]float64, p.slots), need: make([]float64, p.slots+1)}
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
	cost := 0.0
	for _, s := range z.starts {
		if o := &p.opts[s.opt]; o.bev == i {
			cost += o.fixed + p.bevs[i].unit*s.g
		}
	}
	z.lots = p.lots(i, z.starts, z.lots)
	return cost + p.bevs[i].serveEDF(z.lots, level, nil, nil)
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
	clear(z.trial)
	cost := z.beverage(i, z.trial)
	ok := cost-z.cost[i] < z.iced // without any ice shortage it must be cheaper
	if ok {
		for t, g := range z.trial {
			if d := g - z.level[i][t]; d > 0 && z.exceeds(t, z.total[t]+d) {
				ok = false
				break
			}
		}
	}
	if ok && (step > 0 || other > 0) {
		ok = p.withinLimits(z.starts)
	}
	if ok {
		ok = z.ice() && cost+z.iced < z.cost[i]+iced-1e-9*max(1, math.Abs(cost))
	}
	if !ok {
		z.starts[k].g, z.iced = was, iced
		if j >= 0 {
			z.starts[j].g = wasOther
		}
		return false
	}
	z.cost[i] = cost
	for t, g := range z.trial {
		z.total[t] += g - z.level[i][t]
	}
	z.level[i], z.trial = z.trial, z.level[i]
	return true
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
