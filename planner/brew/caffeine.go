package brew

import "fmt"

// CaffeineOfDosePct is the caffeine content of roasted arabica, % by mass: the middle of about 0.9–1.5 (from memory; robusta
// has about twice as much).
const CaffeineOfDosePct = 1.2

// CaffeineServingMg is the most caffeine an adult should take at once, mg (EFSA 2015, from memory). A stronger serving carries
// a caution.
const CaffeineServingMg = 200.0

// CaffeineBasis states the assumptions of CaffeineMg.
const CaffeineBasis = "estimate: arabica with 1.2 % caffeine, all of it dissolved and spread evenly over the liquid; robusta carries about twice as much"

// CaffeineMg is the estimated caffeine, mg, in servingG g of finished beverage, of which extraction x yields beverageG g
// (melted ice included, if there is any).
func (x Extraction) CaffeineMg(beverageG, servingG float64) float64 {
	if beverageG <= 0 || x.LiquidG <= 0 {
		return 0
	}
	dose := x.SpentG + x.DissolvedG
	return dose * 1000 * CaffeineOfDosePct / 100 * (x.BeverageG / x.LiquidG) * servingG / beverageG
}

// CaffeineSay is the caution for a serving with this much caffeine, mg; "" if it needs none.
func CaffeineSay(mg float64) string {
	if mg <= CaffeineServingMg {
		return ""
	}
	return fmt.Sprintf("about %.0f mg caffeine in this serving (%s): more than the %.0f mg that an adult should take at once; say so, and offer less",
		mg, CaffeineBasis, CaffeineServingMg)
}
