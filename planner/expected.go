package planner

import (
	"hotday/models"
	"hotday/planner/margin"
	"hotday/planner/risk"
)

// expected is the plan's result on its Monte Carlo days. Money is what the plan can still change: brewing of its own batches, ageing,
// what is poured away and missed sales on the planned days. Coffee made before the plan is paid for.
func (dr *draft) expected() models.Expected {
	r, o := dr.req, dr.outlook
	out := models.Expected{Days: []models.ExpectedDay{}, Drinks: []models.ExpectedDrink{}, PouredAway: []models.PouredAway{}}
	for j := range r.Drinks {
		out.Drinks = append(out.Drinks, models.ExpectedDrink{Drink: r.Drinks[j].Code})
	}
	for d := dr.h.before; d < len(dr.h.days); d++ {
		day := models.ExpectedDay{Date: dr.h.days[d]}
		for j, s := range o.Sales[d] {
			day.Sold += s.Sold
			day.Missed += s.Missed
			day.MissedCost += dr.needs.missedCost(j, s)
			out.Drinks[j].Sold += s.Sold
			out.Drinks[j].Missed += s.Missed
			out.Drinks[j].MissedNoIce += s.NoIce
			out.MissedNoIce += s.NoIce
		}
		day.Demanded = day.Sold + day.Missed
		out.Sold += day.Sold
		out.Missed += day.Missed
		out.Cost.MissedSales += day.MissedCost
		out.Days = append(out.Days, day)
		if d < len(o.Flows[flowIce].Days) {
			out.IceShortG += o.Flows[flowIce].Days[d].Mean
		}
	}
	for j := range out.Drinks {
		out.Drinks[j].Demanded = out.Drinks[j].Sold + out.Drinks[j].Missed
	}
	out.Demanded = out.Sold + out.Missed
	dr.expectedCoffee(&out)
	out.Cost.Total = out.Cost.Brewing + out.Cost.Aging + out.Cost.PouredAway + out.Cost.MissedSales
	return out
}

// missedCost is the cost of a drink's missed sales by cause, beside the coffee of all that is brewed.
func (n *needs) missedCost(drink int, s risk.Sales) float64 {
	return (s.Missed-s.NoIce)*n.prices.MissedOfMade(drink, margin.Beverage) + s.NoIce*n.prices.MissedOfMade(drink, margin.Ice)
}

// expectedCoffee adds what is poured away, and the cost of the batches and of ageing. The making of coffee that is poured away counts
// there and not as brewing.
func (dr *draft) expectedCoffee(out *models.Expected) {
	c := &dr.result.Cost
	out.Cost.Brewing = c.Batches + c.Making - dr.savedMaking(dr.outlook)
	for b := range dr.req.Beverages {
		cost := &dr.needs.costs[b]
		waste := models.PouredAway{Beverage: dr.req.Beverages[b].Code, G: dr.outlook.WasteG[b]}
		made := 0.0 // by the plan
		for k, at := range dr.lotsOf(b) {
			if l := &dr.result.Lots[at]; l.Start >= 0 && !l.Carried {
				made += cost.unit * dr.outlook.LotLeft[b][k]
			}
		}
		waste.Cost = made + cost.disposal*waste.G
		out.Cost.Brewing -= made
		out.Cost.PouredAway += waste.Cost
		out.Cost.Aging += cost.aging * dr.h.hours() * dr.outlook.AgingG[b]
		out.PouredAwayG += waste.G
		if waste.G >= 0.5 {
			out.PouredAway = append(out.PouredAway, waste)
		}
	}
}

// leftovers lists what is left of each lot, stock on hand first. batches are the plan's, those under way first.
func (dr *draft) leftovers(batches []models.BatchTask) []models.LotLeft {
	out := []models.LotLeft{}
	taskOf := dr.batchesByLot(batches)
	for b := range dr.req.Beverages {
		opening := dr.openingOf(b)
		for k, at := range dr.lotsOf(b) {
			l := &dr.result.Lots[at]
			left := models.LotLeft{Beverage: dr.req.Beverages[b].Code, G: dr.outlook.LotLeft[b][k], Carried: l.Carried}
			if l.Start >= 0 {
				t := taskOf[at]
				left.Batch, left.MadeAt, left.UseBy = t.ID, t.Ready, t.UseBy
				out = append(out, left)
				continue
			}
			whole := left.G / l.G
			for _, o := range opening[l.Opening] { // lots merged for the search share what is left
				left.Batch, left.G = "", o.g*whole
				if o.row < 0 {
					left.Batch = dr.kept[o.kept].task.Task
				}
				left.MadeAt, left.UseBy = o.from.In(dr.loc), o.until.In(dr.loc)
				out = append(out, left)
			}
		}
		for k := range dr.opening {
			if o := &dr.opening[k]; o.bev == b && o.g > 0 && o.to <= o.ready { // it expires before it can be served
				left := models.LotLeft{Beverage: dr.req.Beverages[b].Code, G: o.g, MadeAt: o.from.In(dr.loc), UseBy: o.until.In(dr.loc)}
				if o.row < 0 {
					left.Batch = dr.kept[o.kept].task.Task
				}
				out = append(out, left)
			}
		}
	}
	return out
}

// batchesByLot finds the task of each planned batch by its lot in result.Lots.
func (dr *draft) batchesByLot(batches []models.BatchTask) map[int]*models.BatchTask {
	out := map[int]*models.BatchTask{}
	first := len(batches) - len(dr.batches)
	for i := range dr.batches {
		out[dr.batches[i].lot] = &batches[first+i]
	}
	return out
}
