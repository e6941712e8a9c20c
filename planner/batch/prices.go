package batch

// prices are the Lagrange multipliers of the shared constraints and of the branching constraints on starts.
type prices struct {
	brewer   [][]float64 // by brewer and slot, ≥ 0, per busy slot
	people   []float64   // by slot, ≥ 0, per start
	store    []float64   // by slot, ≥ 0, per gram at its end
	ice      []float64   // by slot, per gram taken; nil without ice
	start    [][]float64 // by option and slot, of any sign, per start; nil if there are too many
	cut      []float64   // by number in the cutPool, ≥ 0, per gram; missing ones are 0
	constant float64     // constant term of the branching constraints
}

func newPrices(p *problem) *prices {
	q := &prices{brewer: table(p.brewer, p.slots), people: make([]float64, p.slots), store: make([]float64, p.slots)}
	if len(p.opts)*p.slots <= maxBranchStarts {
		q.start = table(len(p.opts), p.slots)
	}
	if p.ice != nil {
		q.ice = make([]float64, p.slots)
	}
	return q
}

// maxBranchStarts is the number of possible starts above which there is no branching on them: the prices would take too much memory.
const maxBranchStarts = 20000

func table(rows, columns int) [][]float64 {
	out, cells := make([][]float64, rows), make([]float64, rows*columns)
	for r := range out {
		out[r] = cells[r*columns : (r+1)*columns]
	}
	return out
}

// each calls f for every list of prices, paired with that of o.
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
	q.constant = 0
	clear(q.cut)
	q.each(q, func(q, _ []float64) { clear(q) })
}

func (q *prices) set(o *prices) {
	q.constant = o.constant
	q.cut = append(q.cut[:0], o.cut...)
	q.each(o, func(q, o []float64) { copy(q, o) })
}

// blend sets q to share·q + (1−share)·o.
func (q *prices) blend(share float64, o *prices) {
	q.constant = share*q.constant + (1-share)*o.constant
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

// scale multiplies the prices by share, those of ice only if ice is set.
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

// plan is a plan of one beverage: a column of the master problem.
type plan struct {
	bev      int
	cost     float64 // without prices
	starts   []batchStart
	level    []float64 // stock at the end of each slot
	unserved []lot     // amounts never served, by lot
}

// planOf is the plan of beverage i's starts, served in order of expiry.
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
			pl.unserved = append(pl.unserved, l)
		}
	}
	return pl
}
