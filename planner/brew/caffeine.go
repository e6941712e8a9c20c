package brew

import "fmt"

// CaffeineOfDosePct is the caffeine of roasted arabica, % of the dose: 1.2 as a middle of about 0.9–1.5 (from memory; robusta
// holds about twice that).
const CaffeineOfDosePct = 1.2

// CaffeineServingMg is what an adult may take at once, mg (EFSA 2015, from memory): more than that in a serving is told.
const CaffeineServingMg = 200.0

// CaffeineBasis says what CaffeineMg rests on.
const CaffeineBasis = "estimate: arabica with 1.2 % caffeine, all of it dissolved and spread evenly over the liquid; robusta carries about twice as much"

// CaffeineMg is the estimated caffeine, mg, in servingG g of a beverage of which beverageG g (ice melted in or not) were made
// from the extraction x.
func (x Extraction) CaffeineMg(beverageG, servingG float64) float64 {
	if beverageG <= 0 || x.LiquidG <= 0 {
		return 0
	}
	dose := x.SpentG + x.DissolvedG
	return dose * 1000 * CaffeineOfDosePct / 100 * (x.BeverageG / x.LiquidG) * servingG / beverageG
}

// CaffeineSay is the caution for a serving of mg, "" where none is due.
func CaffeineSay(mg float64) string {
	if mg <= CaffeineServingMg {
		return ""
	}
	return fmt.Sprintf("about %.0f mg caffeine in this serving (%s): more than the %.0f mg that an adult should take at once; say so, and offer less",
		mg, CaffeineBasis, CaffeineServingMg)
}
