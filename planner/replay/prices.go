package replay

import (
	"hotday/models"
	"hotday/planner/brew"
)

// prices is the season's money, minor units a gram or a serving.
type prices struct {
	unit, disposal, aging []float64 // by beverage: the coffee of a gram, to throw it away, for each hour that it waits
	lost, coffee          []float64 // by drink: contribution lost times short_factor, the coffee of its beverages
	batch                 map[string]float64
}

func newPrices(s *models.Setup) *prices {
	p := &prices{batch: map[string]float64{}}
	perG := map[string]float64{} // of coffee as dosed
	for _, c := range s.Coffees {
		perG[c.Code] = c.CostPerKg / 1000 / (1 - c.GrinderLossPct/100)
	}
	index := map[string]int{}
	for i := range s.Beverages {
		b := &s.Beverages[i]
		index[b.Code] = i
		r := brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}
		p.unit = append(p.unit, perG[b.Coffee]/r.FinishedPerDose())
		p.disposal = append(p.disposal, b.DisposalCost/1000)
		p.aging = append(p.aging, b.AgingCostPerKgPH/1000)
	}
	for i := range s.Drinks {
		d := &s.Drinks[i]
		contribution, coffee := d.Price-d.OtherCost, 0.0
		for _, x := range d.Doses {
			contribution -= x.DoseG * perG[x.Coffee]
		}
		for _, u := range d.Uses {
			coffee += u.G * p.unit[index[u.Beverage]]
		}
		p.lost = append(p.lost, s.Costs.ShortFactor*max(0, contribution-coffee))
		p.coffee = append(p.coffee, coffee)
	}
	for _, b := range s.Brewers {
		p.batch[b.Code] = b.BatchCost
	}
	return p
}

// Figures is what came of a span of days under one method. Money is in minor units of the site's currency.
type Figures struct {
	Batches      int     // begun
	BatchCost    float64 // their own cost
	PouredG      float64 // beverage thrown away
	PouredCoffee float64 // the coffee in it
	Disposal     float64
	Aging        float64
	Asked        float64 // servings
	Missed       float64 // servings
	Lost         float64 // the contribution of those missed, times short_factor
	Coffee       float64 // of the drinks asked for, the same for every method
	BoughtIceG   float64 // drink ice brought in
	BoughtIce    float64 // what it cost
	IceShortH    float64 // hours in which a glass or a batch lacked ice
	OpenDays     int
}

// Cost is what the schedule's objective says of the span, less the coffee of the drinks that were asked for.
func (f *Figures) Cost() float64 {
	return f.BatchCost + f.PouredCoffee + f.Disposal + f.Aging + f.Lost + f.BoughtIce
}

// Total is the schedule's objective: Cost with the coffee of the drinks that were asked for.
func (f *Figures) Total() float64 { return f.Cost() + f.Coffee }

func (f *Figures) add(o *Figures) {
	f.Batches += o.Batches
	f.BatchCost += o.BatchCost
	f.PouredG += o.PouredG
	f.PouredCoffee += o.PouredCoffee
	f.Disposal += o.Disposal
	f.Aging += o.Aging
	f.Asked += o.Asked
	f.Missed += o.Missed
	f.Lost += o.Lost
	f.Coffee += o.Coffee
	f.BoughtIceG += o.BoughtIceG
	f.BoughtIce += o.BoughtIce
	f.IceShortH += o.IceShortH
	f.OpenDays += o.OpenDays
}
