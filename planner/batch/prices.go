package batch

// prices are the multipliers of what beverages share: brewers' slots, people's starts, the store's grams, the bin's ice;
// and of limits that a search sets on a beverage's own starts.
type prices struct {
	brewer [][]float64 // by brewer and slot, ≥ 0, a slot busy
	people []float64   // by slot, ≥ 0, a start
	store  []float64   // by slot, ≥ 0, a gram at its end
	ice    []float64   // by slot, a gram taken; nil without ice
	start  [][]float64 // by option and slot, of any sign, a start; nil where there are too many
	cut    []float64   // by number in the cutPool, ≥ 0, a gram; what is missing is 0
	rest   float64     // what the limits on a beverage's own starts add to the bound
}

func newPrices(p *problem) *prices {
	q := &prices{brewer: table(p.brewer, p.slots), people: make([]float64, p.slots), store: make([]float64, p.slots)}
	if len(p.opts)*p.slots <= manyStarts {
		q.start = table(len(p.opts), p.slots)
	}
	if p.ice != nil {
		q.ice = make([]float64, p.slots)
	}
	return q
}

// manyStarts is the number of possible starts from which plans are not parted by them: the prices would take much memory.
const manyStarts = 20000

func table(rows, columns int) [][]float64 {
	out, cells := make([][]float64, rows), make([]float64, rows*columns)
	for r := range out {
		out[r] = cells[r*columns : (r+1)*columns]
	}
	return out
}

// each calls f with every list of prices and the same list of o.
func (q *prices) each(o *prices, f func(q, o []float64)) {
	for b := range q.brewer {
		f(q.brewer[b], o.brewer[b])
	}
	for i := range q.start {
		f(q.start[i], o.start[i])
	}
	f(q.people, o.people)
	f(q.store, o.store)
	f(q.ice, o.ice)
}

func (q *prices) clear() {
	q.rest = 0
	clear(q.cut)
	q.each(q, func(q, _ []float64) { clear(q) })
}

func (q *prices) set(o *prices) {
	q.rest = o.rest
	q.cut = append(q.cut[:0], o.cut...)
	q.each(o, func(q, o []float64) { copy(q, o) })
}

// blend sets q to share·q + (1−share)·o.
func (q *prices) blend(share float64, o *prices) {
	q.rest = share*q.rest + (1-share)*o.rest
	for len(q.cut) < len(o.cut) {
		q.cut = append(q.cut, 0)
	}
	for n := range q.cut {
		q.cut[n] *= share
		if n < len(o.cut) {
			q.cut[n] += (1 - share) * o.cut[n]
		}
	}
	q.each(o, func(q, o []float64) {
		for t := range q {
			q[t] = share*q[t] + (1-share)*o[t]
		}
	})
}

// scale multiplies the prices, that of ice too or not.
func (q *prices) scale(share float64, ice bool) {
	kept := q.ice
	if !ice {
		q.ice = nil
	}
	q.each(q, func(q, _ []float64) {
		for t := range q {
			q[t] *= share
		}
	})
	for n := range q.cut {
		q.cut[n] *= share
	}
	q.ice = kept
}

// plan is what one beverage does alone.
type plan struct {
	bev    int
	cost   float64 // unpriced
	starts []batchStart
	level  []float64 // what it holds at the end of each slot
	dead   []lot     // what is never served, by lot
}

// planOf works out what beverage i's starts cost and hold, unpriced, served by earliest expiry.
func (p *problem) planOf(i int, starts []batchStart) *plan {
	pl := &plan{bev: i, level: make([]float64, p.slots)}
	for _, s := range starts {
		if o := &p.opts[s.opt]; o.bev == i {
			pl.starts = append(pl.starts, s)
			pl.cost += o.fixed + p.bevs[i].unit*s.g
		}
	}
	lots := p.lots(i, pl.starts, nil)
	pl.cost += p.bevs[i].serveEDF(lots, pl.level, nil, nil)
	for _, l := range lots {
		if l.g > 0 {
			pl.dead = append(pl.dead, l)
		}
	}
	return pl
}
