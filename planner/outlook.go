package planner

import (
	"context"
	"fmt"
	"math"

	"hotday/planner/ice"
	"hotday/planner/risk"
)

// simulate lives the plan through many days.
func (j *job) simulate(ctx context.Context) error {
	r, err := risk.Simulate(ctx, j.riskInput(), j.req.Seed, j.days())
	if err != nil {
		return err
	}
	j.outlook = &r
	return nil
}

// days is how many the plan is lived through.
func (j *job) days() int {
	if j.opt.Days < 1 {
		return simulatedDays
	}
	return j.opt.Days
}

// Flows of the simulation.
const (
	flowIce = iota
	flowWater
)

func (j *job) riskInput() risk.Input {
	r, h := j.req, j.h
	in := risk.Input{Slots: h.n, Assume: risk.Assumed()}
	tank := false
	for d := range r.Drinks {
		x := &r.Drinks[d]
		drink := risk.Drink{ShortCost: max(0, x.Price-x.OtherCost) * r.Costs.ShortFactor}
		grams := map[int]float64{}
		for _, u := range x.Uses {
			grams[j.bevIndex[u.Beverage]] += u.G
		}
		for i := range r.Beverages {
			if g := grams[i]; g > 0 {
				drink.Stocks = append(drink.Stocks, risk.Take{Index: i, G: g})
			}
		}
		if x.ServingIceG > 0 {
			drink.Flows = append(drink.Flows, risk.Take{Index: flowIce, G: x.ServingIceG})
		}
		if x.WaterG > 0 {
			tank = true
			drink.Flows = append(drink.Flows, risk.Take{Index: flowWater, G: x.WaterG})
		}
		in.Drinks = append(in.Drinks, drink)
	}
	for i, p := range j.needs.paths {
		in.Rows = append(in.Rows, risk.Row{Key: p.Key, Drink: j.needs.rows[i].drink, Day: p.Day, Range: p.Range, Slot: p.Slot, Share: p.Share})
	}
	for i := range r.Beverages {
		in.Stocks = append(in.Stocks, risk.Stock{WasteCost: j.needs.costs[i].disposal})
	}
	for k, l := range j.result.Lots {
		if l.G <= 0 {
			continue
		}
		lot := risk.Lot{G: l.G, From: l.ReadySlot, Until: l.ExpiresSlot, IceFlow: flowIce}
		if l.Start < 0 {
			lot.Key, lot.SD = fmt.Sprintf("opening|%s|%d", r.Beverages[l.Beverage].Code, k), in.Assume.CountSDAt(0)
		}
		in.Stocks[l.Beverage].Lots = append(in.Stocks[l.Beverage].Lots, lot)
	}
	for i := range j.batches {
		p := &j.batches[i]
		o := &j.options[p.option]
		lots := in.Stocks[o.bev].Lots
		l := j.result.Lots[p.lot]
		for k := range lots {
			if x := &lots[k]; x.Key == "" && x.IceG == 0 && x.From == l.ReadySlot && x.G == l.G {
				x.IceG, x.IceSlot = p.doseG*j.recipes[o.bev].unit.IceG, j.iceSlot(p)
				break
			}
		}
	}
	in.Flows = append(in.Flows, j.iceFlow())
	if tank && j.water != nil { // not planned yet while the level is adjusted
		in.Flows = append(in.Flows, j.waterFlow())
	}
	in.Days = j.riskDays()
	return in
}

func (j *job) iceFlow() risk.Flow {
	s, r := j.drink, j.req
	f := risk.Flow{Key: "drink ice", Opening: s.opening, Capacity: s.capacity, LossPerSlot: 1 - s.keep, Taken: j.keptIce(), CountAgeH: j.countAgeH()}
	for _, m := range s.makers {
		f.Makers = append(f.Makers, risk.Maker{Key: m.code, G: m.g, PerC: j.outputPerC(m.row), SD: -1})
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

// countAgeH is the age of the ice count, h; a count without a time was made just now.
func (j *job) countAgeH() float64 {
	if j.req.Ice.CountedAt == nil {
		return 0
	}
	return max(0, j.h.start.Sub(*j.req.Ice.CountedAt).Hours())
}

// outputPerC is the relative change of a machine's output for a degree, at the hottest air of the horizon.
func (j *job) outputPerC(row int) float64 {
	m := &j.req.Ice.Makers[row]
	machine := ice.Maker{KgPerDayRated: m.KgPerDayRated, RatedAirC: m.RatedAirC, RatedWaterC: m.RatedWaterC}
	for _, p := range m.Curve {
		machine.Curve = append(machine.Curve, ice.Point(p))
	}
	hot := j.hottest()
	a, b := machine.KgPerDay(hot, j.req.Ice.InletWaterC), machine.KgPerDay(hot+1, j.req.Ice.InletWaterC)
	if a <= 0 {
		return 0
	}
	return math.Max(-1, b/a-1)
}

func (j *job) hottest() float64 {
	hot := math.Inf(-1)
	for _, c := range j.air {
		hot = max(hot, c)
	}
	if math.IsInf(hot, 0) {
		return unknownHottestC
	}
	return hot
}

func (j *job) waterFlow() risk.Flow {
	w, r := j.water, j.req
	f := risk.Flow{Key: "treated water", Exact: true, Opening: min(r.Water.OpeningL, r.Water.TankL) * 1000, Capacity: r.Water.TankL * 1000,
		Taken: make([]float64, j.h.n)}
	g := make([]float64, j.h.n)
	out := merged(outages(r, "tank", ""))
	for t := range g {
		g[t] = r.Water.MakeLPerH * 1000 * j.h.hours() * (1 - j.h.sharedPart(out, t))
		f.Taken[t] = (w.brew[t] + w.ice[t] + w.rinse[t]) * 1000
	}
	f.Makers = []risk.Maker{{Key: "treatment", G: g, Exact: true}}
	return f
}

// riskDays are the service days on the slots.
func (j *job) riskDays() []risk.Day {
	issued := j.h.start
	if j.req.WeatherIssuedAt != nil && j.req.WeatherIssuedAt.Before(issued) {
		issued = *j.req.WeatherIssuedAt
	}
	var out []risk.Day
	for i, span := range j.h.daySlots() {
		ahead := max(0, j.h.days[i].At(12*60, j.loc).Sub(issued).Hours()/24)
		out = append(out, risk.Day{Until: span[1], AheadDays: ahead})
	}
	return out
}

// daySlots are the slots [from, to) of each service day, the night before it included.
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
