// Package margin prices a shop's drinks from its set-up: what a serving earns, and what a missed one costs. The planner, the replay and
// the review price alike by it. Money is in minor units of the site's currency.
package margin

import (
	"hotday/models"
	"hotday/planner/brew"
)

// Cause is the reason for a missed sale. When a drink lacks both ice and a beverage the cause is [Ice]: without ice there is no other
// cold drink to choose either.
type Cause int

// Causes of missed sales. Anything but ice for drinks that a drink lacks counts as a beverage.
const (
	Beverage Cause = iota
	Ice
)

// Prices are the prices of a set-up, in the order of its lists.
type Prices struct {
	DosePerG     []float64 // coffee as dosed, by coffee and gram
	CoffeePerG   []float64 // the coffee in a gram of each beverage
	DisposalPerG []float64 // pouring away a gram of each beverage, beside the coffee in it
	AgingPerGH   []float64 // an hour of a gram of each beverage in the cold store
	Contribution []float64 // of a serving of each drink, at least 0: its net price less its other costs and all its coffee
	Coffee       []float64 // in the beverages of a serving of each drink

	factor [2]float64 // by Cause
}

// Of prices a set-up, which must be valid.
func Of(s *models.Setup) *Prices {
	p := &Prices{factor: [2]float64{Beverage: s.Costs.ShortFactor, Ice: s.Costs.IceFactor()}}
	coffee, beverage := map[string]int{}, map[string]int{}
	for i := range s.Coffees {
		c := &s.Coffees[i]
		coffee[c.Code] = i
		p.DosePerG = append(p.DosePerG, c.CostPerKg/1000/(1-c.GrinderLossPct/100))
	}
	dose := func(code string) float64 {
		if i, ok := coffee[code]; ok {
			return p.DosePerG[i]
		}
		return 0
	}
	for i := range s.Beverages {
		b := &s.Beverages[i]
		beverage[b.Code] = i
		perG := 0.0
		r := brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}
		if per := r.FinishedPerDose(); per > 0 {
			perG = dose(b.Coffee) / per
		}
		p.CoffeePerG = append(p.CoffeePerG, perG)
		p.DisposalPerG = append(p.DisposalPerG, b.DisposalCost/1000)
		p.AgingPerGH = append(p.AgingPerGH, b.AgingCostPerKgPH/1000)
	}
	for i := range s.Drinks {
		d := &s.Drinks[i]
		own, batched := s.Costs.Net(d.Price)-d.OtherCost, 0.0
		for _, x := range d.Doses {
			own -= s.Site.UsedG(x.DoseG) * dose(x.Coffee)
		}
		for _, u := range d.Uses {
			if k, ok := beverage[u.Beverage]; ok {
				batched += s.Site.UsedG(u.G) * p.CoffeePerG[k]
			}
		}
		p.Contribution = append(p.Contribution, max(0, own-batched))
		p.Coffee = append(p.Coffee, batched)
	}
	return p
}

// Missed is the cost of a missed serving of a drink: its contribution times the site's factor for the cause.
func (p *Prices) Missed(drink int, c Cause) float64 { return p.factor[c] * p.Contribution[drink] }

// MissedOfMade is the cost of a missed serving beside the coffee of all that is brewed, as in the schedule's objective: [Prices.Missed]
// and the coffee of its beverages, which a sale would have used up. Without that, brewing less would seem to save coffee twice.
func (p *Prices) MissedOfMade(drink int, c Cause) float64 {
	return p.Missed(drink, c) + p.Coffee[drink]
}

// Factor is the site's factor for a cause: the share of a contribution that a missed sale costs.
func (p *Prices) Factor(c Cause) float64 { return p.factor[c] }

// PouredPerG is the cost of pouring away a gram of a beverage: the coffee in it and its disposal.
func (p *Prices) PouredPerG(beverage int) float64 {
	return p.CoffeePerG[beverage] + p.DisposalPerG[beverage]
}
