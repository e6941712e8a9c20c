package batch

import "math"

// fitter optimises grams and serving for given starts by a linear program. Stock serves the slots until the next lot is ready
// and the rest is passed on to that lot, so a lot needs one balance row and the amount served in a slot is a bounded column.
// Constraints that seldom bind are rows added once they are violated: expiry, the store, and the bin, whose shortage cost is
// convex in the ice taken by batches and modelled by Benders cuts (Numerische Mathematik 4 (1962)).
type fitter struct {
	p      *problem
	lp     program
	only   int // the one beverage to serve, without store and bin; -1 for all
	starts []batchStart
	lots   []fitLot
	byBev  [][]int // lots of each beverage in order of readiness
	theta  int     // column of the cost of ice shortage, -1 for none
	ice    []float64
	take   []float64
	need   []float64
	run    iceRun
	fixed  float64
	coefs  []float64
	sum    []float64
	work   int
	// penalty is the penalty for violating a row: more than any cost of a gram.
	penalty float64
}

// fitLot is a lot in the program, with the balance Σ serve + carry + unserved − carry(previous lot) − extra = minG.
type fitLot struct {
	lot
	bev      int
	until    int   // slots from ready to until are served from here
	serve    []int // columns by slot from ready, -1 without demand
	carry    int   // column of stock passed on to the next lot, -1
	extra    int   // column of grams above the minimum, -1
	unserved int   // column of stock never served
	minG     float64
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
	return &fitter{p: p, only: -1, penalty: 1e4 * dear, take: make([]float64, p.slots), need: make([]float64, p.slots+1), sum: make([]float64, p.slots+1), ice: make([]float64, p.slots),
		run:   iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)},
		byBev: make([][]int, len(p.bevs))}
}

// fit optimises the grams of the starts within their limits, or keeps them if keep is set, and returns the cost. ok is false if
// there is no feasible solution. The starts must fit brewers and people.
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
		if f.expiryRows()+f.sharedRows(starts) == 0 {
			if !f.lp.withinBounds() {
				return math.Inf(1), false
			}
			for j := range f.lp.cols {
				if f.lp.cols[j].cost >= f.penalty && f.lp.value(j) > 1e-6 {
					return math.Inf(1), false
				}
			}
			return f.fixed + f.lp.objective(), true
		}
	}
	return math.Inf(1), false
}

func (f *fitter) grams(l *fitLot) float64 {
	if l.extra < 0 {
		return l.minG
	}
	return l.minG + max(0, f.lp.value(l.extra))
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
			f.insert(i, fitLot{lot: l, bev: i, minG: l.g})
		}
	}
	for k, s := range starts {
		o := &p.opts[s.opt]
		if f.only >= 0 && o.bev != f.only {
			continue
		}
		r := s.slot + o.ready
		f.insert(o.bev, fitLot{lot: lot{g: s.g, ready: r, expires: r + p.bevs[o.bev].hold, early: o.early, start: k}, bev: o.bev, minG: o.min})
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

// insert adds the lot in order of readiness, then expiry.
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

// columns adds the columns and rows of beverage i.
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
		// Initial basis: a batch is at its upper or lower limit, whichever its grams are closer to, and serves as much as it can.
		stock, large := l.minG, false
		if l.start >= 0 {
			if o := &p.opts[f.starts[l.start].opt]; keep {
				l.minG = l.g
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
		l.carry, l.extra = -1, -1
		if n+1 < len(f.byBev[i]) && l.until < p.slots && latest > l.until {
			l.carry = f.lp.addColumn(column{cost: b.aging * float64(l.until-l.ready), upper: math.Inf(1)})
		}
		if l.start >= 0 {
			o := &p.opts[f.starts[l.start].opt]
			if !keep && o.max > o.min {
				l.extra = f.lp.addColumn(column{cost: b.unit, upper: o.max - o.min})
				f.lp.atUpper[l.extra] = large
			}
			f.fixed += b.unit * l.minG
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
		f.set(l.carry, 1)
		f.set(before, -1)
		f.set(l.extra, -1)
		r := f.lp.addRow(f.coef, l.minG, math.Inf(1), math.Inf(1))
		l.unserved = f.lp.slackOf[r]
		f.lp.cols[l.unserved].cost = b.leftCost(&l.lot)
		before = l.carry
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

// sharedRows adds violated rows of the store, the bin and the limits and returns their number.
func (f *fitter) sharedRows(starts []batchStart) int {
	if f.only >= 0 {
		return 0
	}
	return f.storeRows() + f.iceRows(starts) + f.limitRows(starts)
}

// expiryRows adds violated expiry rows and returns their number. By Hall's condition the lots can be matched to the slots if, for
// every span of slots, the lots usable only within it serve at most the amounts served there; the most violated row of each
// beverage is added.
func (f *fitter) expiryRows() int {
	n := 0
	for i := range f.p.bevs {
		if len(f.byBev[i]) == 0 {
			continue
		}
		from, to := f.mostViolated(i)
		if to > 0 {
			f.clearCoefs()
			rhs := 0.0
			for _, k := range f.byBev[i] {
				l := &f.lots[k]
				if l.ready >= from && l.expires <= to {
					rhs -= l.minG
					f.set(l.extra, 1)
					f.set(l.unserved, -1)
				}
				for t, j := range l.serve {
					if l.ready+t >= from && l.ready+t < to {
						f.set(j, -1)
					}
				}
			}
			f.lp.addRow(f.coef, rhs, math.Inf(1), f.penalty)
			n++
		}
		for _, k := range f.byBev[i] {
			l := &f.lots[k]
			if f.lp.value(l.unserved) > f.grams(l)+1e-5 {
				f.clearCoefs()
				f.set(l.unserved, 1)
				f.set(l.extra, -1)
				f.lp.addRow(f.coef, l.minG, math.Inf(1), f.penalty)
				n++
			}
		}
	}
	return n
}

// mostViolated is the span of slots that violates Hall's condition most; to is 0 for none.
func (f *fitter) mostViolated(i int) (from, to int) {
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
					over += f.grams(l) - f.lp.value(l.unserved)
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

// served is the prefix sums, by slot, of the amounts of beverage i served.
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

// storeRows adds rows for slots that end above the store's capacity, the worst of each run of slots, and returns their number.
func (f *fitter) storeRows() int {
	p := f.p
	level := f.sum[:p.slots+1]
	clear(level)
	for k := range f.lots {
		l := &f.lots[k]
		f.storeColumns(l, func(from, to, j int) {
			v := f.lp.value(j)
			level[from] += v
			level[to] -= v
		})
		if l.early > 0 { // beside the column of its extra grams
			level[min(p.slots, l.ready-l.early)] += l.minG
			level[min(p.slots, l.ready)] -= l.minG
		}
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
		room := p.store[at]
		for k := range f.lots {
			l := &f.lots[k]
			f.storeColumns(l, func(from, to, j int) {
				if from <= at && at < to {
					f.coefs[j]++
				}
			})
			if l.ready-l.early <= at && at < l.ready {
				room -= l.minG
			}
		}
		f.lp.addRow(f.coef, room, math.Inf(1), f.penalty)
		n++
	}
	return n
}

// storeColumns calls add for every column of lot l whose grams are in the store at the end of slots [from, to).
func (f *fitter) storeColumns(l *fitLot, add func(from, to, j int)) {
	for k, j := range l.serve {
		if j >= 0 && k > 0 {
			add(l.ready, l.ready+k, j)
		}
	}
	if l.extra >= 0 && l.early > 0 {
		add(l.ready-l.early, l.ready, l.extra)
	}
	if l.carry >= 0 {
		add(l.ready, l.until, l.carry)
	}
	if to := min(l.expires, f.p.slots); to > l.ready {
		add(l.ready, to, l.unserved)
	}
}

// iceRows adds the violated Benders cut for the ice bin, an optimality or a feasibility cut, and returns the number added.
func (f *fitter) iceRows(starts []batchStart) int {
	b := f.p.ice
	if b == nil {
		return 0
	}
	f.p.iceTaken(starts, f.take)
	cost, ok := b.run(f.take, f.need, &f.run)
	if !ok {
		from, limit := b.bottleneck(f.need)
		b.needWeights(f.need, from, f.ice)
		f.addIceRow(starts, b.needBefore(f.take, from, f.ice)-limit, 0)
		return 1
	}
	if f.lp.value(f.theta) >= cost-1e-7*max(1, cost) {
		return 0
	}
	b.subgradient(f.need, &f.run, f.ice)
	f.addIceRow(starts, cost, -1)
	return 1
}

// addIceRow adds Σ price·(taken − current taken) + now ≤ theta, or ≤ 0 for a feasibility cut; now is the current value.
func (f *fitter) addIceRow(starts []batchStart, now, theta float64) {
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
			if f.p.whole { // the grams are fixed
				c = o.ice(s.g) / s.g * f.ice[t]
			}
			f.set(l.extra, c)
			rhs -= c * l.minG
		}
	}
	f.set(f.theta, theta)
	f.lp.addRow(f.coef, rhs, math.Inf(1), f.penalty)
}
