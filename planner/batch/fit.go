package batch

import "math"

// fitter finds the best grams, and what is served from what, for given starts: a linear program. A lot's stock serves the
// slots until the next lot is ready, the rest goes on to the next lot; so a lot needs one row, and what a slot takes is a
// bounded column. What seldom binds enters as a row only once it is broken: a lot that perishes before it is used up, the
// store, and the bin, whose cost is convex in what batches take and enters as its tangents (Benders, Numerische Mathematik
// 4 (1962)).
type fitter struct {
	p      *problem
	lp     program
	only   int // the one beverage to serve, without store and bin; -1 for all
	starts []batchStart
	lots   []fitLot
	byBev  [][]int // lots of each beverage in order of readiness
	theta  int     // column of what the bin's shortage costs, -1
	ice    []float64
	take   []float64
	need   []float64
	run    iceRun
	fixed  float64
	coefs  []float64
	sum    []float64
	work   int
	// elastic is what breaking a row costs: more than any cost of a gram.
	elastic float64
}

// fitLot is a lot in the program: balance Σ serve + on + dead − on(before) − more = its least grams.
type fitLot struct {
	lot
	bev   int
	until int   // slots from ready to until are served from here
	serve []int // columns by slot from ready, -1 where nothing is asked for
	on    int   // column of what goes on to the next lot, -1
	more  int   // column of grams above the least, -1
	dead  int   // column of what is never served
	least float64
}

func newFitter(p *problem) *fitter {
	dear := 1e-3
	for i := range p.bevs {
		b := &p.bevs[i]
		dear = max(dear, b.short, b.unit, b.disposal, b.credit, b.aging*float64(p.slots))
	}
	if p.ice != nil {
		dear = max(dear, p.ice.short)
	}
	return &fitter{p: p, only: -1, elastic: 1e4 * dear, take: make([]float64, p.slots), need: make([]float64, p.slots+1), sum: make([]float64, p.slots+1), ice: make([]float64, p.slots),
		run:   iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)},
		byBev: make([][]int, len(p.bevs))}
}

// fit sets the grams of the starts, free within their limits or as they are where keep is set. It returns the cost and
// whether such grams exist. The starts must fit brewers and people.
func (f *fitter) fit(starts []batchStart, keep bool) (float64, bool) {
	f.build(starts, keep)
	for round := 0; round < 60; round++ {
		before := f.lp.pivots
		if !f.lp.solve(4000) {
			return math.Inf(1), false
		}
		f.work += 5 + (f.lp.pivots-before)*(1+len(f.lp.rhs)*len(f.lp.rhs)/500)
		for k := range f.lots {
			if l := &f.lots[k]; l.start >= 0 {
				starts[l.start].g = f.grams(l)
			}
		}
		if f.perish()+f.shared(starts) == 0 {
			for j := range f.lp.cols {
				if f.lp.cols[j].cost >= f.elastic && f.lp.value(j) > 1e-6 {
					return math.Inf(1), false
				}
			}
			return f.fixed + f.lp.objective(), true
		}
	}
	return math.Inf(1), false
}

func (f *fitter) grams(l *fitLot) float64 {
	if l.more < 0 {
		return l.least
	}
	return l.least + max(0, f.lp.value(l.more))
}

func (f *fitter) build(starts []batchStart, keep bool) {
	p := f.p
	f.starts, f.fixed, f.theta = starts, 0, -1
	f.lp.reset()
	f.lots = f.lots[:0]
	for i := range p.bevs {
		f.byBev[i] = f.byBev[i][:0]
		if f.only >= 0 && i != f.only {
			continue
		}
		for _, l := range p.bevs[i].opening {
			f.insert(i, fitLot{lot: l, bev: i, least: l.g})
		}
	}
	for k, s := range starts {
		o := &p.opts[s.opt]
		if f.only >= 0 && o.bev != f.only {
			continue
		}
		r := s.slot + o.ready
		f.insert(o.bev, fitLot{lot: lot{g: s.g, ready: r, expires: r + p.bevs[o.bev].hold, start: k}, bev: o.bev, least: o.min})
		f.fixed += o.fixed
	}
	for i := range p.bevs {
		if f.only < 0 || i == f.only {
			f.columns(i, keep)
		}
	}
	if p.ice != nil && f.only < 0 {
		f.theta = f.lp.addColumn(column{cost: 1, upper: math.Inf(1)})
	}
}

// insert puts the lot in the order of readiness, then expiry.
func (f *fitter) insert(i int, l fitLot) {
	f.lots = append(f.lots, l)
	at := append(f.byBev[i], len(f.lots)-1)
	for k := len(at) - 1; k > 0; k-- {
		a, b := &f.lots[at[k-1]], &f.lots[at[k]]
		if a.ready < b.ready || (a.ready == b.ready && a.expires <= b.expires) {
			break
		}
		at[k-1], at[k] = at[k], at[k-1]
	}
	f.byBev[i] = at
}

// columns makes the columns and rows of beverage i.
func (f *fitter) columns(i int, keep bool) {
	p, b := f.p, &f.p.bevs[i]
	f.fixed += b.short * b.cum[p.slots]
	latest := 0
	for n, k := range f.byBev[i] {
		l := &f.lots[k]
		latest = max(latest, l.expires)
		l.until = p.slots
		if n+1 < len(f.byBev[i]) {
			l.until = min(p.slots, f.lots[f.byBev[i][n+1]].ready)
		}
		// To start with, a batch is as large or as small as it was and serves what it can.
		stock, large := l.least, false
		if l.start >= 0 {
			if o := &p.opts[f.starts[l.start].opt]; keep {
				l.least = l.g
				stock = l.g
			} else if large = l.g > (o.min+o.max)/2 || l.g == 0; large {
				stock = o.max
			}
		}
		last := min(l.until, latest)
		l.serve = l.serve[:0]
		for t := l.ready; t < last; t++ {
			j := -1
			if b.demand[t] > 0 {
				j = f.lp.addColumn(column{cost: b.aging*float64(t-l.ready) - b.short, upper: b.demand[t]})
				if b.demand[t] <= stock {
					f.lp.atUpper[j] = true
					stock -= b.demand[t]
				}
			}
			l.serve = append(l.serve, j)
		}
		l.on, l.more = -1, -1
		if n+1 < len(f.byBev[i]) && l.until < p.slots && latest > l.until {
			l.on = f.lp.addColumn(column{cost: b.aging * float64(l.until-l.ready), upper: math.Inf(1)})
		}
		if l.start >= 0 {
			o := &p.opts[f.starts[l.start].opt]
			if !keep && o.max > o.min {
				l.more = f.lp.addColumn(column{cost: b.unit, upper: o.max - o.min})
				f.lp.atUpper[l.more] = large
			}
			f.fixed += b.unit * l.least
		}
	}
	before := -1
	for _, k := range f.byBev[i] {
		l := &f.lots[k]
		f.clearCoefs()
		for _, j := range l.serve {
			if j >= 0 {
				f.coefs[j] = 1
			}
		}
		f.set(l.on, 1)
		f.set(before, -1)
		f.set(l.more, -1)
		r := f.lp.addRow(f.coef, l.least, math.Inf(1), math.Inf(1))
		l.dead = f.lp.slackOf[r]
		f.lp.cols[l.dead].cost = b.leftCost(&l.lot, p.slots)
		before = l.on
	}
}

func (f *fitter) clearCoefs() {
	for len(f.coefs) < len(f.lp.cols) {
		f.coefs = append(f.coefs, 0)
	}
	clear(f.coefs)
}

func (f *fitter) set(j int, v float64) {
	if j >= 0 {
		f.coefs[j] += v
	}
}

func (f *fitter) coef(j int) float64 {
	if j < len(f.coefs) {
		return f.coefs[j]
	}
	return 0
}

// shared adds rows of the store and the bin.
func (f *fitter) shared(starts []batchStart) int {
	if f.only >= 0 {
		return 0
	}
	return f.store() + f.bin(starts)
}

// perish adds the row that is broken most of each beverage, of those that say: lots that serve only between two slots
// serve no more than is served there (Hall's condition; lots and slots match where it holds for every pair of slots).
func (f *fitter) perish() int {
	n := 0
	for i := range f.p.bevs {
		if len(f.byBev[i]) == 0 {
			continue
		}
		from, to := f.tightest(i)
		if to > 0 {
			f.clearCoefs()
			rhs := 0.0
			for _, k := range f.byBev[i] {
				l := &f.lots[k]
				if l.ready >= from && l.expires <= to {
					rhs -= l.least
					f.set(l.more, 1)
					f.set(l.dead, -1)
				}
				for t, j := range l.serve {
					if l.ready+t >= from && l.ready+t < to {
						f.set(j, -1)
					}
				}
			}
			f.lp.addRow(f.coef, rhs, math.Inf(1), f.elastic)
			n++
		}
		for _, k := range f.byBev[i] {
			l := &f.lots[k]
			if f.lp.value(l.dead) > f.grams(l)+1e-5 {
				f.clearCoefs()
				f.set(l.dead, 1)
				f.set(l.more, -1)
				f.lp.addRow(f.coef, l.least, math.Inf(1), f.elastic)
				n++
			}
		}
	}
	return n
}

// tightest is the span of slots that breaks Hall's condition most, to 0 for none.
func (f *fitter) tightest(i int) (from, to int) {
	p := f.p
	served := f.served(i)
	worst := 1e-5
	for a, ka := range f.byBev[i] {
		x := f.lots[ka].ready
		if a > 0 && f.lots[f.byBev[i][a-1]].ready == x {
			continue
		}
		for _, kb := range f.byBev[i][a:] {
			y := f.lots[kb].expires
			if y >= p.slots || y <= 0 {
				continue
			}
			over := 0.0
			for _, k := range f.byBev[i][a:] {
				if l := &f.lots[k]; l.expires <= y {
					over += f.grams(l) - f.lp.value(l.dead)
				}
			}
			if x < y {
				over -= served[y] - served[x]
			}
			if over > worst {
				worst, from, to = over, x, y
			}
		}
	}
	return from, to
}

// served is the prefix sums of what slots are served of beverage i.
func (f *fitter) served(i int) []float64 {
	sum := f.sum[:f.p.slots+1]
	clear(sum)
	for _, k := range f.byBev[i] {
		l := &f.lots[k]
		for t, j := range l.serve {
			if j >= 0 {
				sum[l.ready+t+1] += f.lp.value(j)
			}
		}
	}
	for t := 0; t < f.p.slots; t++ {
		sum[t+1] += sum[t]
	}
	return sum
}

// store adds the rows of slots that end with more than the store holds: the worst one of each run of slots.
func (f *fitter) store() int {
	p := f.p
	level := f.sum[:p.slots+1]
	clear(level)
	for k := range f.lots {
		f.holds(&f.lots[k], func(from, to, j int) {
			v := f.lp.value(j)
			level[from] += v
			level[to] -= v
		})
	}
	for t := 1; t < p.slots; t++ {
		level[t] += level[t-1]
	}
	n := 0
	for t := 0; t < p.slots; t++ {
		worst, at := 1e-4, -1
		for ; t < p.slots && level[t] > p.store[t]+1e-4; t++ {
			if over := level[t] - p.store[t]; over > worst {
				worst, at = over, t
			}
		}
		if at < 0 {
			continue
		}
		f.clearCoefs()
		for k := range f.lots {
			f.holds(&f.lots[k], func(from, to, j int) {
				if from <= at && at < to {
					f.coefs[j]++
				}
			})
		}
		f.lp.addRow(f.coef, p.store[at], math.Inf(1), f.elastic)
		n++
	}
	return n
}

// holds calls add for every column whose grams lie in the store at the end of slots [from, to) because of lot l.
func (f *fitter) holds(l *fitLot, add func(from, to, j int)) {
	for k, j := range l.serve {
		if j >= 0 && k > 0 {
			add(l.ready, l.ready+k, j)
		}
	}
	if l.on >= 0 {
		add(l.ready, l.until, l.on)
	}
	if to := min(l.expires, f.p.slots); to > l.ready {
		add(l.ready, to, l.dead)
	}
}

// bin adds the tangent of what the bin's shortage costs where the program stands, or what keeps the batches' ice there.
func (f *fitter) bin(starts []batchStart) int {
	b := f.p.ice
	if b == nil {
		return 0
	}
	f.p.taken(starts, f.take)
	cost, ok := b.run(f.take, f.need, &f.run)
	if !ok {
		from, limit := b.lacking(f.need)
		b.needed(f.need, from, f.ice)
		f.iceRow(starts, b.wanted(f.take, from, f.ice)-limit, 0)
		return 1
	}
	if f.lp.value(f.theta) >= cost-1e-7*max(1, cost) {
		return 0
	}
	b.priced(f.need, &f.run, f.ice)
	f.iceRow(starts, cost, -1)
	return 1
}

// iceRow adds Σ price·(taken − taken now) + now ≤ theta (or ≤ 0 without it).
func (f *fitter) iceRow(starts []batchStart, now, theta float64) {
	f.clearCoefs()
	rhs := -now
	for t, g := range f.take {
		rhs += f.ice[t] * g
	}
	for k := range f.lots {
		l := &f.lots[k]
		if l.start < 0 {
			continue
		}
		s := starts[l.start]
		o := &f.p.opts[s.opt]
		if t := s.slot + o.iceSlots; t < f.p.slots {
			c := o.icePerG * f.ice[t]
			f.set(l.more, c)
			rhs -= c * l.least
		}
	}
	f.set(f.theta, theta)
	f.lp.addRow(f.coef, rhs, math.Inf(1), f.elastic)
}
