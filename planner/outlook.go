package planner

import (
	"context"
	"fmt"
	"math"

	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/ice"
	"hotday/planner/risk"
)

// simulate runs the plan through Monte Carlo days.
func simulate(ctx context.Context, bp *brewPlan, w *waterPlan) (*risk.Result, error) {
	r, err := risk.Simulate(ctx, bp.riskInput(w), bp.req.Seed, bp.days())
	if err != nil {
		return nil, err
	}
	return &r, nil
}

// days is the number of Monte Carlo days asked for.
func (st *setting) days() int {
	if st.opt.Days < 1 {
		return simulatedDays
	}
	return st.opt.Days
}

// Flows of the simulation.
const (
	flowIce = iota
	flowWater
)

// riskInput states the plan for the simulation; w is nil while the levels are still being chosen.
func (bp *brewPlan) riskInput(w *waterPlan) risk.Input {
	r, h := bp.req, bp.h
	in := risk.Input{Slots: h.n, Assume: risk.DefaultAssumptions()}
	in.Assume.Correlation = demand.CorrelationOf(r)
	tank, share := false, bp.waterRecipe().Share
	for d := range r.Drinks {
		x := &r.Drinks[d]
		drink := risk.Drink{}
		grams := map[int]float64{}
		for _, u := range x.Uses {
			grams[bp.bevIndex[u.Beverage]] += r.Site.UsedG(u.G)
		}
		for i := range r.Beverages {
			if g := grams[i]; g > 0 {
				drink.Stocks = append(drink.Stocks, risk.Take{Index: i, G: g})
			}
		}
		if x.ServingIceG > 0 {
			drink.Flows = append(drink.Flows, risk.Take{Index: flowIce, G: r.Site.ServingIceUsedG(x)})
		}
		if x.WaterG > 0 {
			tank = true
			drink.Flows = append(drink.Flows, risk.Take{Index: flowWater, G: r.Site.UsedG(x.WaterG) * share})
		}
		in.Drinks = append(in.Drinks, drink)
	}
	for i, p := range bp.needs.paths {
		in.Rows = append(in.Rows, risk.Row{Key: p.Key, Drink: bp.needs.rows[i].drink, Day: p.Day, Range: p.Range, Slot: p.Slot, Share: p.Share})
	}
	for i := range r.Beverages {
		in.Stocks = append(in.Stocks, risk.Stock{Lots: bp.riskLots(i)})
	}
	in.Flows = append(in.Flows, bp.iceFlow())
	if tank && w != nil {
		in.Flows = append(in.Flows, w.flow(bp.setting))
	}
	in.Days = bp.riskDays()
	for i := range bp.choices {
		bp.addChoice(&in, &bp.choices[i])
	}
	return in
}

// riskLots states the lots of a beverage for the simulation, in the order of lotsOf.
func (bp *brewPlan) riskLots(bev int) []risk.Lot {
	batchOf := map[int]*planned{} // by lot
	for i := range bp.batches {
		batchOf[bp.batches[i].lot] = &bp.batches[i]
	}
	var out []risk.Lot
	for _, k := range bp.lotsOf(bev) {
		l := &bp.result.Lots[k]
		lot := risk.Lot{G: l.G, From: l.ReadySlot, Until: l.ExpiresSlot, IceFlow: flowIce}
		if !l.Carried {
			lot.Until = min(lot.Until, bp.h.n) // nothing is sold after the horizon until it expires
		}
		if l.Start < 0 {
			lot.Key, lot.SD = fmt.Sprintf("opening|%s|%d", bp.req.Beverages[bev].Code, l.Opening), risk.DefaultAssumptions().CountSDAt(0)
		} else if p := batchOf[k]; p != nil {
			lot.IceG, lot.IceSlot, lot.Begun = p.iceG, bp.iceSlot(p), p.slot
		}
		out = append(out, lot)
	}
	return out
}

// lotsOf returns the indices of a beverage's lots in result.Lots, without empty ones.
func (bp *brewPlan) lotsOf(bev int) []int {
	var out []int
	for k := range bp.result.Lots {
		if l := &bp.result.Lots[k]; l.Beverage == bev && l.G > 0 {
			out = append(out, k)
		}
	}
	return out
}

func (bp *brewPlan) iceFlow() risk.Flow {
	s, r := bp.drink, bp.req
	f := risk.Flow{Key: "drink ice", Ice: true, Opening: s.opening, Capacity: s.capacity, LossPerSlot: 1 - s.keep, Taken: bp.keptIce(), CountAgeH: bp.countAgeH()}
	for t, g := range s.bath {
		f.Taken[t] += g
	}
	for _, m := range s.makers {
		f.Makers = append(f.Makers, risk.Maker{Key: m.code, G: m.g, PerC: bp.outputPerC(m.row), SD: -1})
	}
	by := map[int][]float64{}
	for _, l := range s.loads {
		row := s.units[l.unit].row
		if by[row] == nil {
			by[row] = make([]float64, s.slots)
		}
		by[row][l.take] += l.g
	}
	for row := range r.Ice.Moulds {
		if g := by[row]; g != nil {
			f.Makers = append(f.Makers, risk.Maker{Key: r.Ice.Moulds[row].Code, G: g, Exact: true})
		}
	}
	return f
}

// countAgeH is the age of the ice count, h; a count without a time counts as new.
func (st *setting) countAgeH() float64 {
	if st.req.Ice.CountedAt == nil {
		return 0
	}
	return max(0, st.h.start.Sub(*st.req.Ice.CountedAt).Hours())
}

// outputPerC is the relative change of a machine's output per °C of air temperature, at the hottest of the horizon.
func (kt *kitchen) outputPerC(row int) float64 {
	m := &kt.req.Ice.Makers[row]
	machine := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
	for _, p := range m.Curve {
		machine.Curve = append(machine.Curve, ice.Point(p))
	}
	hot := kt.hottest()
	a, b := machine.KgPerDay(hot, kt.req.Ice.InletWaterC), machine.KgPerDay(hot+1, kt.req.Ice.InletWaterC)
	if a <= 0 {
		return 0
	}
	return math.Max(-1, b/a-1)
}

func (kt *kitchen) hottest() float64 {
	hot := math.Inf(-1)
	for _, c := range kt.air {
		hot = max(hot, c)
	}
	if math.IsInf(hot, 0) {
		return models.UnknownHottestC
	}
	return hot
}

// flow states the tank for the simulation.
func (w *waterPlan) flow(st *setting) risk.Flow {
	r := st.req
	f := risk.Flow{Key: "treated water", Exact: true, Opening: min(r.Water.OpeningL, r.Water.TankL) * 1000, Capacity: r.Water.TankL * 1000,
		Taken: make([]float64, st.h.n)}
	g := make([]float64, st.h.n)
	out := models.Merged(outages(r, "tank", ""))
	for t := range g {
		g[t] = r.Water.MakeLPerH * 1000 * st.h.hours() * (1 - st.h.sharedPart(out, t))
		f.Taken[t] = ((w.brew[t]+w.ice[t])*w.recipe.Share + w.plumbed[t] + w.rinse[t]) * 1000
	}
	f.Makers = []risk.Maker{{Key: "treatment", G: g, Exact: true}}
	return f
}

// riskDays lays out the service days on the slots.
func (st *setting) riskDays() []risk.Day {
	issued := st.h.start
	if st.req.WeatherIssuedAt != nil && st.req.WeatherIssuedAt.Before(issued) {
		issued = *st.req.WeatherIssuedAt
	}
	var out []risk.Day
	for i, span := range st.h.daySlots() {
		ahead := max(0, st.h.days[i].At(12*60, st.loc).Sub(issued).Hours()/24)
		out = append(out, risk.Day{Until: span[1], AheadDays: ahead})
	}
	return out
}

// daySlots returns the slots [from, to) of each service day, with the night before it.
func (h *horizon) daySlots() [][2]int {
	var out [][2]int
	from := 0
	for i, d := range h.days {
		until := h.n
		if i < len(h.days)-1 {
			until = min(h.n, max(from, h.slotFrom(h.site.DayEnd(d))))
		}
		out = append(out, [2]int{from, until})
		from = until
	}
	return out
}
