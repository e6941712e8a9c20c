package planner

import "hotday/models"

// expected is the plan's result on its Monte Carlo days. Money is what the plan can still change: brewing of its own batches, ageing,
// what is poured away and missed sales on the planned days. Coffee made before the plan is paid for.
func (dr *draft) expected() models.Expected {
	r, o := dr.req, dr.outlook
	out := models.Expected{Days: []models.ExpectedDay{}, Drinks: []models.ExpectedDrink{}, PouredAway: []models.PouredAway{}}
	missedCost := dr.missedCost()
	for j := range r.Drinks {
		out.Drinks = append(out.Drinks, models.ExpectedDrink{Drink: r.Drinks[j].Code})
	}
	for d, date := range dr.h.days {
		day := models.ExpectedDay{Date: date}
		for j, s := range o.Sales[d] {
			day.Sold += s.Sold
			day.Missed += s.Missed
			day.MissedCost += s.Missed * missedCost[j]
			out.Drinks[j].Sold += s.Sold
			out.Drinks[j].Missed += s.Missed
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

// missedCost is the cost of a missed serving of each drink, minor units: its price without its other costs, times the site's factor.
func (st *setting) missedCost() []float64 {
	out := make([]float64, len(st.req.Drinks))
	for j := range st.req.Drinks {
		out[j] = st.req.Drinks[j].LostWhenMissed() * st.req.Costs.ShortFactor
	}
	return out
}

// expectedCoffee adds what is poured away, and the cost of the batches and of ageing. The making of coffee that is poured away counts
// there and not as brewing.
func (dr *draft) expectedCoffee(out *models.Expected) {
	c := &dr.result.Cost
	out.Cost.Brewing = c.Batches + c.Making
	for b := range dr.req.Beverages {
		cost := &dr.needs.costs[b]
		waste := models.PouredAway{Beverage: dr.req.Beverages[b].Code, G: dr.outlook.WasteG[b]}
		made := 0.0 // by the plan
		for k, l := range dr.lotsInRisk(b) {
			if l.Start >= 0 && !l.Carried {
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
