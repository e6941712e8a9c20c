package review

import (
	"hotday/models"
	"hotday/planner/margin"
	"hotday/planner/say"
)

// Review reviews the days of f, the first of which is from. Its notes are worded for the site.
func (f *Facts) Review(from models.Date) models.Review {
	out := models.Review{From: from, Days: len(f.Days), ByDay: []models.ReviewDay{}, Warned: []models.WarnedReview{}, Advice: []models.Advice{},
		Notes: []string{}, Record: f.Record}
	ledgers := map[string]*Ledger{}
	p := margin.Of(&f.Setup)
	for i := range f.Days {
		d := &f.Days[i]
		day := models.ReviewDay{Date: d.Date, Open: !d.Closed, WarmestC: warmest(d.Observed)}
		day.Drinks = f.drinksOf(d, p)
		anyReported := false
		for k := range f.Setup.Beverages {
			b, reported := f.beverageOf(d, &f.Setup.Beverages[k], ledgers, day.Drinks)
			anyReported = anyReported || reported
			day.Beverages = append(day.Beverages, b)
		}
		day.Ice = f.iceOf(d, day)
		if day.Open {
			out.Open++
			if anyReported {
				out.Reported++
			}
		}
		out.ByDay = append(out.ByDay, day)
	}
	out.Beverages, out.Drinks, out.Ice = sumBeverages(&f.Setup, out.ByDay), sumDrinks(&f.Setup, out.ByDay), sumIce(out.ByDay)
	out.Warned = f.warnings(out.ByDay)
	out.Advice = f.advice(&out, p)
	out.Notes = notes(say.For(f.Setup.Site), &out)
	return out
}
