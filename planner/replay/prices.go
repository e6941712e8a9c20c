package replay

import (
	"hotday/models"
	"hotday/planner/brew"
)

// prices are the costs of the season, in minor units: by beverage and gram, by drink and serving, by brewer and batch.
type prices struct {
	coffeePerG, disposalPerG, agingPerGH []float64 // ageing for each hour in the cold store
	lostPerServing, coffeePerServing     []float64 // lost contribution times short_factor; coffee of the beverages
	batchCost                            map[string]float64
}

func newPrices(s *models.Setup) *prices {
	p := &prices{batchCost: map[string]float64{}}
	perG := map[string]float64{} // by coffee, of ground coffee
	for _, c := range s.Coffees {
		perG[c.Code] = c.CostPerKg / 1000 / (1 - c.GrinderLossPct/100)
	}
	index := map[string]int{}
	for i := range s.Beverages {
		b := &s.Beverages[i]
		index[b.Code] = i
		r := brew.Recipe{Ratio: b.Ratio, IceShare: b.IceShare, RetainedRatio: b.RetainedRatio, MaxYieldPct: b.MaxYieldPct}
		p.coffeePerG = append(p.coffeePerG, perG[b.Coffee]/r.FinishedPerDose())
		p.disposalPerG = append(p.disposalPerG, b.DisposalCost/1000)
		p.agingPerGH = append(p.agingPerGH, b.AgingCostPerKgPH/1000)
	}
	for i := range s.Drinks {
		d := &s.Drinks[i]
		contribution, coffee := d.Price-d.OtherCost, 0.0
		for _, x := range d.Doses {
			contribution -= s.Site.UsedG(x.DoseG) * perG[x.Coffee]
		}
		for _, u := range d.Uses {
			coffee += s.Site.UsedG(u.G) * p.coffeePerG[index[u.Beverage]]
		}
		p.lostPerServing = append(p.lostPerServing, s.Costs.ShortFactor*max(0, contribution-coffee))
		p.coffeePerServing = append(p.coffeePerServing, coffee)
	}
	for _, b := range s.Brewers {
		p.batchCost[b.Code] = b.BatchCost
	}
	return p
}

// Figures are the results of a span of days under one method. Money is in minor units of the site's currency.
type Figures struct {
	Batches      int // started
	BatchCost    float64
	PouredG      float64 // beverage poured away
	PouredCoffee float64 // the coffee in it
	Disposal     float64
	Aging        float64
	Demand       float64 // servings
	Missed       float64 // servings
	Lost         float64 // contribution of the missed servings, times short_factor
	Coffee       float64 // in the drinks asked for, the same for every method
	BoughtIceG   float64 // drink ice bought
	BoughtIce    float64 // its cost
	IceShortH    float64 // hours in which drinks or batches lacked ice
	OpenDays     int
}

// Cost is the objective of the schedule without the coffee in the drinks asked for.
func (f *Figures) Cost() float64 {
	return f.BatchCost + f.PouredCoffee + f.Disposal + f.Aging + f.Lost + f.BoughtIce
}

// Total is the objective of the schedule: Cost plus the coffee in the drinks asked for.
func (f *Figures) Total() float64 { return f.Cost() + f.Coffee }

func (f *Figures) add(o *Figures) {
	f.Batches += o.Batches
	f.BatchCost += o.BatchCost
	f.PouredG += o.PouredG
	f.PouredCoffee += o.PouredCoffee
	f.Disposal += o.Disposal
	f.Aging += o.Aging
	f.Demand += o.Demand
	f.Missed += o.Missed
	f.Lost += o.Lost
	f.Coffee += o.Coffee
	f.BoughtIceG += o.BoughtIceG
	f.BoughtIce += o.BoughtIce
	f.IceShortH += o.IceShortH
	f.OpenDays += o.OpenDays
}
