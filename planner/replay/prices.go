package replay

import (
	"hotday/models"
	"hotday/planner/margin"
)

// prices are the costs of the season, in minor units.
type prices struct {
	*margin.Prices
	batchCost map[string]float64 // by brewer
}

func newPrices(s *models.Setup) *prices {
	p := &prices{margin.Of(s), map[string]float64{}}
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
	MissedNoIce  float64 // of Missed: ice was out
	Lost         float64 // cost of the missed servings, each by its cause
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
	f.MissedNoIce += o.MissedNoIce
	f.Lost += o.Lost
	f.Coffee += o.Coffee
	f.BoughtIceG += o.BoughtIceG
	f.BoughtIce += o.BoughtIce
	f.IceShortH += o.IceShortH
	f.OpenDays += o.OpenDays
}
