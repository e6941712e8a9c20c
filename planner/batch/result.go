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

// result works a plan out in full: its grams are kept, what is served from what is chosen at least cost. It reports
// false where the store or the ice does not allow the starts.
func (p *problem) result(starts []batchStart) (*Result, bool) {
	r := &Result{Starts: []Start{}, Store: make([]float64, p.slots)}
	starts = sorted(starts)
	f := newFitter(p)
	if _, ok := f.fit(starts, true); !ok {
		return nil, false
	}
	for _, s := range starts {
		o := &p.opts[s.opt]
		r.Starts = append(r.Starts, Start{Brewer: p.in.Brewers[o.brewer].Name, Beverage: p.in.Beverages[o.bev].Name, StartSlot: s.slot, G: s.g})
		r.Cost.Batches += o.fixed
		r.Cost.Making += p.bevs[o.bev].unit * s.g
	}
	for i := range p.bevs {
		p.resultBeverage(r, i, f)
	}
	p.resultIce(r, starts)
	r.Objective = r.Cost.Total()
	return r, true
}

// resultBeverage gives each slot what the program serves it, from the lots that perish first.
func (p *problem) resultBeverage(r *Result, i int, f *fitter) {
	b := &p.bevs[i]
	var uses []LotUse
	var useful []float64
	for _, k := range f.byBev[i] {
		l := &f.lots[k]
		use := LotUse{Beverage: i, Start: l.start, Opening: -1, ReadySlot: l.ready, ExpiresSlot: l.expires, G: l.g, LeftG: l.g,
			ServedG: make([]float64, p.slots), Carried: l.expires > p.slots}
		if l.start < 0 {
			use.Opening = l.opening
		}
		uses, useful = append(uses, use), append(useful, min(l.g, max(0, l.g-f.lp.value(l.dead))))
	}
	served := f.served(i)
	short := make([]float64, p.slots)
	for t := range short {
		want := min(served[t+1]-served[t], b.demand[t])
		short[t] = b.demand[t]
		for want > 1e-9 {
			k := earliest(uses, useful, t)
			if k < 0 {
				break
			}
			y := min(want, useful[k])
			want -= y
			useful[k] -= y
			uses[k].ServedG[t] += y
			uses[k].LeftG -= y
			short[t] -= y
			r.Cost.Aging += y * b.aging * float64(t-uses[k].ReadySlot)
		}
		if short[t] < 1e-7 {
			short[t] = 0
		}
		r.ShortG += short[t]
		r.Cost.Short += short[t] * b.short
	}
	r.Short = append(r.Short, short)
	for k := range uses {
		u := &uses[k]
		u.LeftG = max(0, u.LeftG)
		if u.Carried {
			r.Cost.Carry += u.LeftG * b.credit
		} else {
			r.Cost.Waste += u.LeftG * b.disposal
		}
		held := u.G
		for t := u.ReadySlot; t < min(u.ExpiresSlot, p.slots); t++ {
			held -= u.ServedG[t]
			r.Store[t] += max(0, held)
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

func (p *problem) resultIce(r *Result, starts []batchStart) {
	if p.ice == nil {
		return
	}
	run := &iceRun{level: make([]float64, p.slots), made: make([]float64, p.slots), short: make([]float64, p.slots)}
	use := &IceUse{LevelG: run.level, MadeG: run.made, ShortG: run.short, StirredG: make([]float64, p.slots),
		ServedG: make([]float64, p.slots), MeltedG: make([]float64, p.slots)}
	p.taken(starts, use.StirredG)
	r.Cost.IceShort, _ = p.ice.run(use.StirredG, make([]float64, p.slots+1), run)
	before := p.ice.opening
	for t := range run.short {
		r.IceShortG += run.short[t]
		use.ServedG[t] = p.ice.serve[t] - run.short[t]
		use.MeltedG[t] = before * (1 - p.ice.keep)
		before = run.level[t]
	}
	r.Ice = use
}

// prove sets the bound and the gap. The bound is never above the objective: rounding must not claim more than that.
func (r *Result) prove(bound float64) {
	r.LowerBound = min(bound, r.Objective)
	r.GapPct = 100 * (r.Objective - r.LowerBound) / math.Max(1, math.Abs(r.Objective))
}
