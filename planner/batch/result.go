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

// result works a plan out in full.
func (p *problem) result(starts []batchStart) *Result {
	r := &Result{Starts: []Start{}, Store: make([]float64, p.slots)}
	starts = sorted(starts)
	for _, s := range starts {
		o := &p.opts[s.opt]
		r.Starts = append(r.Starts, Start{Brewer: p.in.Brewers[o.brewer].Name, Beverage: p.in.Beverages[o.bev].Name, StartSlot: s.slot, G: s.g})
		r.Cost.Batches += o.fixed
		r.Cost.Making += p.bevs[o.bev].unit * s.g
	}
	for i := range p.bevs {
		p.resultBeverage(r, i, starts)
	}
	p.resultIce(r, starts)
	r.Objective = r.Cost.Total()
	return r
}

func (p *problem) resultBeverage(r *Result, i int, starts []batchStart) {
	b := &p.bevs[i]
	lots := p.lots(i, starts, nil)
	grams := make([]float64, len(lots))
	served := make([][]float64, len(lots))
	for k := range lots {
		grams[k] = lots[k].g
		served[k] = make([]float64, p.slots)
	}
	short := make([]float64, p.slots)
	b.serveEDF(lots, r.Store, served, short)
	for t, u := range short {
		r.ShortG += u
		r.Cost.Short += u * p.bevs[i].short
		for k := range lots {
			r.Cost.Aging += served[k][t] * b.aging * float64(t-lots[k].ready)
		}
	}
	r.Short = append(r.Short, short)
	for k := range lots {
		l := &lots[k]
		use := LotUse{Beverage: i, Start: l.start, Opening: -1, ReadySlot: l.ready, ExpiresSlot: l.expires, G: grams[k],
			ServedG: served[k], LeftG: l.g, Carried: l.expires > p.slots}
		if l.start < 0 {
			use.Opening = l.opening
		}
		if use.Carried {
			r.Cost.Carry += l.g * b.credit
		} else {
			r.Cost.Waste += l.g * b.disposal
		}
		r.Lots = append(r.Lots, use)
	}
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
