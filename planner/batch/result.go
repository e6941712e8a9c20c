package batch

import (
	"math"
)

// Result is a plan with its lower bound. Fields with JSON names are the answer of `calc batches`; the others are for callers
// in Go.
type Result struct {
	Objective  float64 `json:"objective"`
	LowerBound float64 `json:"lower_bound"` // on the cost of any plan
	GapPct     float64 `json:"gap_pct"`     // 100·(objective − lower bound)/max(1, |objective|)
	Starts     []Start `json:"starts"`      // in order of time, then brewer
	ShortG     float64 `json:"short_g"`     // over all beverages and slots
	IceShortG  float64 `json:"ice_short_g"`

	Lots  []LotUse    `json:"-"` // all opening lots and batches
	Short [][]float64 `json:"-"` // unmet demand, g, by beverage and slot
	Store []float64   `json:"-"` // level of the cold store at the end of each slot, g
	Ice   *IceUse     `json:"-"` // nil if the instance has no ice
	Cost  Cost        `json:"-"` // breakdown of the objective

	work int // units spent
}

// LotUse is the use of a lot.
type LotUse struct {
	Beverage    int       // index in Instance.Beverages
	Start       int       // index in Result.Starts, -1 for an opening lot
	Opening     int       // index in the beverage's Opening, -1 for a batch
	ReadySlot   int       // first slot in which it can be served
	ExpiresSlot int       // exclusive
	EarlySlots  int       // in the store before ReadySlot
	G           float64   // initial
	ServedG     []float64 // by slot, len Slots
	LeftG       float64   // never served
	Carried     bool      // LeftG is still good after the horizon; else it is waste
}

// IceUse is the ice bin over the horizon, by slot, g.
type IceUse struct {
	LevelG []float64 // at the end of the slot
	MadeG  []float64
	ShortG []float64 // unmet demand of glasses
}

// Cost is the breakdown of the objective: Batches + Making + Waste + Aging + Short + IceShort − Carry.
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

// maxFitStarts is the number of starts above which no linear program covers all beverages at once: it would take seconds.
const maxFitStarts = 250

// result is the complete plan of the starts with their grams, with serving optimised. ok is false if the store or the ice does
// not allow them.
func (p *problem) result(starts []batchStart) (*Result, bool) {
	starts = sorted(starts)
	r := p.startsResult(starts)
	if !p.withinLimits(starts) || !p.resultIce(r, starts) {
		return nil, false
	}
	f := newFitter(p)
	for i := range p.bevs { // each beverage alone, which is optimal if the store does not bind
		f.only = i
		if _, ok := f.fit(starts, true); !ok {
			return nil, false
		}
		p.resultBeverage(r, f, i)
	}
	if p.storeSuffices(r) {
		r.Objective = r.Cost.Total()
		return r, true
	}
	r = p.startsResult(starts)
	p.resultIce(r, starts)
	if f.only = -1; len(starts) > 0 && len(starts) <= maxFitStarts {
		if _, ok := f.fit(starts, true); !ok {
			return nil, false
		}
		for i := range p.bevs {
			p.resultBeverage(r, f, i)
		}
	} else {
		for i := range p.bevs {
			p.resultEDF(r, i, starts)
		}
	}
	r.Objective = r.Cost.Total()
	return r, p.storeSuffices(r)
}

// startsResult is a result with the starts and their own cost.
func (p *problem) startsResult(starts []batchStart) *Result {
	r := &Result{Starts: []Start{}, Store: make([]float64, p.slots)}
	for _, s := range starts {
		o := &p.opts[s.opt]
		r.Starts = append(r.Starts, Start{Brewer: p.in.Brewers[o.brewer].Name, Beverage: p.in.Beverages[o.bev].Name, StartSlot: s.slot, G: s.g})
		r.Cost.Batches += o.fixed
		r.Cost.Making += p.bevs[o.bev].unit * s.g
	}
	return r
}

func (p *problem) storeSuffices(r *Result) bool {
	for t, g := range r.Store {
		if g > p.store[t]*(1+1e-9)+1e-3 {
			return false
		}
	}
	return true
}

// resultBeverage assigns the amounts that the linear program serves in each slot to lots, in order of expiry.
func (p *problem) resultBeverage(r *Result, f *fitter, i int) {
	var uses []LotUse
	var useful []float64
	for _, k := range f.byBev[i] {
		l := &f.lots[k]
		uses, useful = append(uses, p.newLotUse(i, &l.lot)), append(useful, min(l.g, max(0, l.g-f.lp.value(l.unserved))))
	}
	served := f.served(i)
	short := make([]float64, p.slots)
	for t := range short {
		want := min(served[t+1]-served[t], p.bevs[i].demand[t])
		short[t] = p.bevs[i].demand[t]
		for want > 1e-9 {
			k := firstToExpire(uses, useful, t)
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
	p.addLots(r, i, uses, short)
}

// resultEDF serves demand from the lots in order of expiry while there is stock.
func (p *problem) resultEDF(r *Result, i int, starts []batchStart) {
	lots := p.lots(i, starts, nil)
	var uses []LotUse
	var served [][]float64
	for k := range lots {
		uses = append(uses, p.newLotUse(i, &lots[k]))
		served = append(served, uses[k].ServedG)
	}
	short := make([]float64, p.slots)
	p.bevs[i].serveEDF(lots, nil, served, short)
	p.addLots(r, i, uses, short)
}

// newLotUse is the LotUse of a lot before anything is served.
func (p *problem) newLotUse(i int, l *lot) LotUse {
	u := LotUse{Beverage: i, Start: l.start, Opening: -1, ReadySlot: l.ready, ExpiresSlot: l.expires, EarlySlots: l.early, G: l.g,
		ServedG: make([]float64, p.slots), Carried: l.expires > p.bevs[i].carry}
	if l.start < 0 {
		u.Opening = l.opening
	}
	return u
}

// addLots adds beverage i's lots, shortage and costs.
func (p *problem) addLots(r *Result, i int, uses []LotUse, short []float64) {
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
		for t := u.ReadySlot - u.EarlySlots; t < min(u.ReadySlot, p.slots); t++ {
			r.Store[t] += held
		}
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

// firstToExpire is the index of the first lot to expire that has useful stock left in slot t, -1 for none.
func firstToExpire(uses []LotUse, useful []float64, t int) int {
	best := -1
	for k := range uses {
		if u := &uses[k]; useful[k] > 0 && u.ReadySlot <= t && t < u.ExpiresSlot && (best < 0 || u.ExpiresSlot < uses[best].ExpiresSlot) {
			best = k
		}
	}
	return best
}

// resultIce adds the use of the ice bin and reports whether every batch gets its ice.
func (p *problem) resultIce(r *Result, starts []batchStart) bool {
	if p.ice == nil {
		return true
	}
	run := &iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)}
	taken := make([]float64, p.slots)
	p.iceTaken(starts, taken)
	cost, ok := p.ice.run(taken, make([]float64, p.slots+1), run)
	if !ok {
		return false
	}
	r.Cost.IceShort = cost
	for _, g := range run.short {
		r.IceShortG += g
	}
	r.Ice = &IceUse{LevelG: run.level, MadeG: run.made, ShortG: run.short}
	return true
}

// setBound sets the bound and the gap. A small margin keeps rounding errors from overstating the bound, which is never above the
// objective.
func (r *Result) setBound(bound float64) {
	r.LowerBound = min(bound-2e-7*math.Max(1, math.Abs(bound)), r.Objective)
	r.GapPct = 100 * (r.Objective - r.LowerBound) / math.Max(1, math.Abs(r.Objective))
}
