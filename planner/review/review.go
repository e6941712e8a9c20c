package review

import (
	"hotday/models"
)

// review puts the facts together. It reads nothing more.
func (f *Facts) Review(from models.Date) models.Review {
	out := models.Review{From: from, Days: len(f.Days), ByDay: []models.ReviewDay{}, Warned: []models.WarnedReview{}, Advice: []models.Advice{},
		Notes: []string{}, Record: f.Record}
	ledgers := map[string]*Ledger{}
	prices := newReviewPrices(&f.Setup)
	for i := range f.Days {
		d := &f.Days[i]
		day := models.ReviewDay{Date: d.Date, Open: !d.Closed, WarmestC: warmest(d.Observed)}
		day.Drinks = f.drinksOf(d, prices)
		anyTold := false
		for k := range f.Setup.Beverages {
			b, is := f.beverageOf(d, &f.Setup.Beverages[k], ledgers, day.Drinks)
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
	out.Beverages, out.Drinks, out.Ice = sumBeverages(&f.Setup, out.ByDay), sumDrinks(&f.Setup, out.ByDay), sumIce(out.ByDay)
	out.Warned = f.warnings(out.ByDay)
	out.Advice = f.advice(&out, prices)
	out.Notes = notes(&out)
	return out
}
