package planner

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
)

// MostReviewDays is the longest review: a season.
const MostReviewDays = 184

// Review looks back on the days from a date on that are over at now, 1 to MostReviewDays of them, on one consistent state of the
// store. Days out of range are CodeInvalid.
func Review(ctx context.Context, store models.Store, site string, from models.Date, days int, now time.Time) (models.Review, error) {
	if days < 1 || days > MostReviewDays {
		return models.Review{}, models.Invalid("/days", fmt.Sprintf("1 to %d", MostReviewDays), "%d days cannot be looked back on", days)
	}
	var facts pastFacts
	err := store.Read(ctx, func(st models.Store) (err error) {
		facts, err = gatherFacts(ctx, st, site, from, days, now)
		return err
	})
	if err != nil {
		return models.Review{}, fmt.Errorf("look back on %s: %w", site, err)
	}
	return facts.review(from), nil
}

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
