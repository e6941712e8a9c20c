package batch

import (
	"math"
)

// Result is a plan with its proof. The JSON names are the answer of `calc batches`; the rest is for callers in Go.
type Result struct {
	Objective  float64 `json:"objective"`
	LowerBound float64 `json:"lower_bound"` // no plan costs less
	GapPct     float64 `json:"gap_pct"`     // 100·(objective − lower bound)/max(1, |objective|)
	Starts     []Start `json:"starts"`      // in order of time, then brewer
	ShortG     float64 `json:"short_g"`     // over all beverages and slots
	IceShortG  float64 `json:"ice_short_g"`

	Lots  []LotUse    `json:"-"` // every opening lot and every batch: what it serves and what is left
	Short [][]float64 `json:"-"` // g short, by beverage and slot
	Store []float64   `json:"-"` // g in the cold store at the end of each slot
	Ice   *IceUse     `json:"-"` // nil where the instance has no ice
	Cost  Cost        `json:"-"` // the objective, split
	Work  int         `json:"-"` // work units spent
}

// LotUse is a lot and what becomes of it.
type LotUse struct {
	Beverage    int       // index in Instance.Beverages
	Start       int       // index in Result.Starts, -1 for an opening lot
	Opening     int       // index in the beverage's Opening, -1 for a batch
	ReadySlot   int       // first slot that it may serve
	ExpiresSlot int       // it serves slots before this one
	G           float64   // at first
	ServedG     []float64 // by slot, len Slots
	LeftG       float64   // never served
	Carried     bool      // what is left is good after the horizon; else it is thrown away
}

// IceUse is the ice bin over the horizon, each list by slot, g.
type IceUse struct {
	LevelG   []float64 // at the end of the slot
	MadeG    []float64
	ServedG  []float64 // in glasses
	ShortG   []float64 // asked for in glasses and not there
	StirredG []float64 // into batches
	MeltedG  []float64
}

// Cost is the objective by cause. Objective = Batches + Making + Waste + Aging + Short + IceShort − Carry.
type Cost struct {
	Batches  float64 // batch_cost
	Making   float64 // unit_cost
	Waste    float64 // disposal
	Aging    float64
	Short    float64 // beverages
	IceShort float64
	Carry    float64 // credit
}

// Total is the objective.
func (c *Cost) Total() float64 {
	return c.Batches + c.Making + c.Waste + c.Aging + c.Short + c.IceShort - c.Carry
}

// manyLots is from where serving is not chosen for all beverages in one linear program: it would take seconds.
const manyLots = 250

// result works a plan out in full: its grams are kept, what is served from what is chosen at least cost. It reports
// false where the store or the ice does not allow the starts.
func (p *problem) result(starts []batchStart) (*Result, bool) {
	starts = sorted(starts)
	r := p.resultOf(starts)
	if !p.resultIce(r, starts) {
		return nil, false
	}
	f := newFitter(p)
	for i := range p.bevs { // each beverage alone: that is best where the store does not mind
		f.only = i
		if _, ok := f.fit(starts, true); !ok {
			return nil, false
		}
		p.resultBeverage(r, f, i)
	}
	if p.storeHolds(r) {
		r.Objective = r.Cost.Total()
		return r, true
	}
	r = p.resultOf(starts)
	p.resultIce(r, starts)
	if f.only = -1; len(f.lots) > 0 && len(starts) <= manyLots {
		if _, ok := f.fit(starts, true); !ok {
			return nil, false
		}
		for i := range p.bevs {
			p.resultBeverage(r, f, i)
		}
	} else {
		for i := range p.bevs {
			p.resultEarliest(r, i, starts)
		}
	}
	r.Objective = r.Cost.Total()
	return r, p.storeHolds(r)
}

// resultOf is a result with its starts and what they cost alone.
func (p *problem) resultOf(starts []batchStart) *Result {
	r := &Result{Starts: []Start{}, Store: make([]float64, p.slots)}
	for _, s := range starts {
		o := &p.opts[s.opt]
		r.Starts = append(r.Starts, Start{Brewer: p.in.Brewers[o.brewer].Name, Beverage: p.in.Beverages[o.bev].Name, StartSlot: s.slot, G: s.g})
		r.Cost.Batches += o.fixed
		r.Cost.Making += p.bevs[o.bev].unit * s.g
	}
	return r
}

func (p *problem) storeHolds(r *Result) bool {
	for t, g := range r.Store {
		if g > p.store[t]*(1+1e-9)+1e-3 {
			return false
		}
	}
	return true
}

// resultBeverage gives each slot what the program serves it, from the lots that perish first.
func (p *problem) resultBeverage(r *Result, f *fitter, i int) {
	var uses []LotUse
	var useful []float64
	for _, k := range f.byBev[i] {
		l := &f.lots[k]
		uses, useful = append(uses, p.unused(i, &l.lot)), append(useful, min(l.g, max(0, l.g-f.lp.value(l.dead))))
	}
	served := f.served(i)
	short := make([]float64, p.slots)
	for t := range short {
		want := min(served[t+1]-served[t], p.bevs[i].demand[t])
		short[t] = p.bevs[i].demand[t]
		for want > 1e-9 {
			k := earliest(uses, useful, t)
			if k < 0 {
				break
			}
			y := min(want, useful[k])
			want -= y
			useful[k] -= y
			uses[k].ServedG[t] += y
			short[t] -= y
		}
	}
	p.addServed(r, i, uses, short)
}

// resultEarliest serves every slot what it asks for, as long as there is something, from the lots that perish first.
func (p *problem) resultEarliest(r *Result, i int, starts []batchStart) {
	lots := p.lots(i, starts, nil)
	var uses []LotUse
	var served [][]float64
	for k := range lots {
		uses = append(uses, p.unused(i, &lots[k]))
		served = append(served, uses[k].ServedG)
	}
	short := make([]float64, p.slots)
	p.bevs[i].serveEDF(lots, nil, served, short)
	p.addServed(r, i, uses, short)
}

// unused is a lot that has served nothing yet.
func (p *problem) unused(i int, l *lot) LotUse {
	u := LotUse{Beverage: i, Start: l.start, Opening: -1, ReadySlot: l.ready, ExpiresSlot: l.expires, G: l.g,
		ServedG: make([]float64, p.slots), Carried: l.expires > p.slots}
	if l.start < 0 {
		u.Opening = l.opening
	}
	return u
}

// addServed adds beverage i's lots and what follows from them.
func (p *problem) addServed(r *Result, i int, uses []LotUse, short []float64) {
	b := &p.bevs[i]
	for t := range short {
		if short[t] < 1e-7 {
			short[t] = 0
		}
		r.ShortG += short[t]
		r.Cost.Short += short[t] * b.short
	}
	r.Short = append(r.Short, short)
	for k := range uses {
		u := &uses[k]
		held := u.G
		for t := u.ReadySlot; t < min(u.ExpiresSlot, p.slots); t++ {
			held -= u.ServedG[t]
			r.Store[t] += max(0, held)
			r.Cost.Aging += u.ServedG[t] * b.aging * float64(t-u.ReadySlot)
		}
		u.LeftG = max(0, held)
		if u.Carried {
			r.Cost.Carry += u.LeftG * b.credit
		} else {
			r.Cost.Waste += u.LeftG * b.disposal
		}
	}
	r.Lots = append(r.Lots, uses...)
}

// earliest is the lot with something useful left in slot t that perishes first, -1 for none.
func earliest(uses []LotUse, useful []float64, t int) int {
	best := -1
	for k := range uses {
		if u := &uses[k]; useful[k] > 0 && u.ReadySlot <= t && t < u.ExpiresSlot && (best < 0 || u.ExpiresSlot < uses[best].ExpiresSlot) {
			best = k
		}
	}
	return best
}

// resultIce adds what happens in the bin and says whether every batch gets its ice.
func (p *problem) resultIce(r *Result, starts []batchStart) bool {
	if p.ice == nil {
		return true
	}
	run := &iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)}
	use := &IceUse{LevelG: run.level, MadeG: run.made, ShortG: run.short, StirredG: make([]float64, p.slots),
		ServedG: make([]float64, p.slots), MeltedG: make([]float64, p.slots)}
	p.taken(starts, use.StirredG)
	cost, ok := p.ice.run(use.StirredG, make([]float64, p.slots+1), run)
	if !ok {
		return false
	}
	r.Cost.IceShort = cost
	before := p.ice.opening
	for t := range run.short {
		r.IceShortG += run.short[t]
		use.ServedG[t] = p.ice.serve[t] - run.short[t]
		use.MeltedG[t] = before * (1 - p.ice.keep)
		before = run.level[t]
	}
	r.Ice = use
	return true
}

// prove sets the bound and the gap. Rounding must not claim more than is proven: the bound keeps a hair's breadth away and
// is never above the objective.
func (r *Result) prove(bound float64) {
	r.LowerBound = min(bound-2e-7*math.Max(1, math.Abs(bound)), r.Objective)
	r.GapPct = 100 * (r.Objective - r.LowerBound) / math.Max(1, math.Abs(r.Objective))
}
