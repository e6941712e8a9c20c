package margin

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

// shop sells a glass of 200 g coffee, a shot made to order, and a glass given away.
func shop() models.Setup {
	return models.Setup{
		Coffees:   []models.Coffee{{Code: "dune", CostPerKg: 1800, GrinderLossPct: 10}}, // 2 a gram as dosed
		Beverages: []models.Beverage{{Code: "flash", Coffee: "dune", Ratio: 12, RetainedRatio: 2.2, MaxYieldPct: 20, DisposalCost: 100, AgingCostPerKgPH: 5}},
		Drinks: []models.Drink{
			{Code: "glass", Price: 476, OtherCost: 20, Uses: []models.Use{{Beverage: "flash", G: 200}}},
			{Code: "shot", Price: 238, OtherCost: 10, Doses: []models.Dose{{Coffee: "dune", DoseG: 18}}},
			{Code: "free", Uses: []models.Use{{Beverage: "flash", G: 200}}},
		},
		Costs: models.Costs{ShortFactor: 1},
	}
}

func TestContributionIsTheNetPriceLessAllItTakes(t *testing.T) {
	t.Parallel()
	s := shop()
	p := Of(&s)
	assert.InDelta(t, 0.2, p.CoffeePerG[0], 1e-12, "10 g of beverage from a gram of coffee")
	assert.InDelta(t, 476-20-40, p.Contribution[0], 1e-9)
	assert.InDelta(t, 238-10-36, p.Contribution[1], 1e-9)
	assert.Zero(t, p.Contribution[2], "giving a drink away costs, but a missed one does not earn")
	assert.InDelta(t, 0.3, p.PouredPerG(0), 1e-12)

	s.Costs.TaxPct = new(19.0)
	p = Of(&s)
	assert.InDelta(t, 400-20-40, p.Contribution[0], 1e-9, "4.76 has 0.76 tax in it")
	assert.InDelta(t, 200-10-36, p.Contribution[1], 1e-9)

	s.Site.RemakePct = 50 // half as much again is remade
	assert.InDelta(t, 400-20-60, Of(&s).Contribution[0], 1e-9)
}

func TestAMissedSaleCostsByItsCause(t *testing.T) {
	t.Parallel()
	s := shop()
	s.Costs.ShortFactor = 0.4
	p := Of(&s)
	assert.InDelta(t, 0.4*416, p.Missed(0, Beverage), 1e-9)
	assert.InDelta(t, 0.4*416, p.Missed(0, Ice), 1e-9, "ice counts the same unless the shop says otherwise")
	assert.InDelta(t, 0.4*416+40, p.MissedOfMade(0, Beverage), 1e-9)

	s.Costs.IceShortFactor = new(0.8)
	p = Of(&s)
	assert.InDelta(t, 0.4*416, p.Missed(0, Beverage), 1e-9)
	assert.InDelta(t, 0.8*416, p.Missed(0, Ice), 1e-9)
	assert.InDelta(t, 0.8*416+40, p.MissedOfMade(0, Ice), 1e-9)

	s.Costs.IceShortFactor = new(0.0)
	assert.Zero(t, Of(&s).Missed(0, Ice), "0 is a value, not left out")
}
