package brew

// CaffeineOfDosePct is the caffeine content of roasted arabica, % by mass: the middle of about 0.9–1.5 (from memory; robusta
// has about twice as much).
const CaffeineOfDosePct = 1.2

// CaffeineServingMg is the most caffeine an adult should take at once, mg (EFSA 2015, from memory). A stronger serving carries
// a caution.
const CaffeineServingMg = 200.0

// CaffeineMg is the estimated caffeine, mg, in servingG g of finished beverage, of which extraction x yields beverageG g
// (melted ice included, if there is any). It assumes that all of the dose's caffeine dissolves and spreads evenly over the liquid.
func (x Extraction) CaffeineMg(beverageG, servingG float64) float64 {
	if beverageG <= 0 || x.LiquidG <= 0 {
		return 0
	}
	dose := x.SpentG + x.DissolvedG
	return dose * 1000 * CaffeineOfDosePct / 100 * (x.BeverageG / x.LiquidG) * servingG / beverageG
}
