package planner

import (
	"hotday/models"
)

// review puts the facts together. It reads nothing more.
func (f *pastFacts) review(from models.Date) models.Review {
	out := models.Review{From: from, Days: len(f.days), ByDay: []models.ReviewDay{}, Warned: []models.WarnedReview{}, Advice: []models.Advice{},
		Notes: []string{}, Record: f.record}
	ledgers := map[string]*Ledger{}
	prices := newReviewPrices(&f.setup)
	for i := range f.days {
		d := &f.days[i]
		day := models.ReviewDay{Date: d.Date, Open: !d.Closed, WarmestC: warmest(d.Observed)}
		day.Drinks = f.drinksOf(d, prices)
		anyTold := false
		for k := range f.setup.Beverages {
			b, is := f.beverageOf(d, &f.setup.Beverages[k], ledgers, day.Drinks)
			anyTold = anyTold || is
			day.Beverages = append(day.Beverages, b)
		}
		day.Ice = f.iceOf(d, day)
		if day.Open {
			out.Open++
			if anyTold {
				out.Told++
			}
		}
		out.ByDay = append(out.ByDay, day)
	}
	out.Beverages, out.Drinks, out.Ice = sumBeverages(&f.setup, out.ByDay), sumDrinks(&f.setup, out.ByDay), sumIce(out.ByDay)
	out.Warned = f.warnings(out.ByDay)
	out.Advice = f.advice(&out, prices)
	out.Notes = notes(&out)
	return out
}
