package review

import (
	"fmt"

	"hotday/models"
)

func add(to **float64, x *float64) {
	if x != nil {
		*to = sumOf(*to, *x)
	}
}

// sumBeverages adds the days told of each beverage: opening of the first, left of the last. What was left before days that nobody
// told of is unexplained after them, so that the sums balance as each day does.
func sumBeverages(setup *models.Setup, days []models.ReviewDay) []models.BeverageReview {
	out := make([]models.BeverageReview, len(setup.Beverages))
	for k := range out {
		s := &out[k]
		s.Beverage = setup.Beverages[k].Code
		sold := 0.0
		for i := range days {
			b := &days[i].Beverages[k]
			sold += b.SoldG
			add(&s.PlannedG, b.PlannedG)
			add(&s.ShortG, b.ShortG)
			if b.Days == 0 {
				continue
			}
			s.Days++
			s.SoldG += b.SoldG
			if s.LeftG == nil {
				s.OpeningG, s.LeftG = b.OpeningG, b.LeftG
			} else {
				s.UnexplainedG = sumOf(s.UnexplainedG, *s.LeftG-*b.OpeningG) // what was left before days that nobody told of
				s.LeftG = b.LeftG
			}
			add(&s.MadeG, b.MadeG)
			add(&s.PouredG, b.PouredG)
			add(&s.UnexplainedG, b.UnexplainedG)
			add(&s.PastUseByG, b.PastUseByG)
		}
		if s.Days == 0 {
			s.SoldG = sold
		}
	}
	return out
}

func sumDrinks(setup *models.Setup, days []models.ReviewDay) []models.DrinkReview {
	out := make([]models.DrinkReview, len(setup.Drinks))
	for k := range out {
		s := &out[k]
		s.Drink = setup.Drinks[k].Code
		for i := range days {
			d := &days[i].Drinks[k]
			s.Sold += d.Sold
			s.OffSaleH += d.OffSaleH
			add(&s.Forecast, d.Forecast)
			add(&s.ShortOf, d.ShortOf)
			add(&s.LostMoney, d.LostMoney)
		}
	}
	return out
}

func sumIce(days []models.ReviewDay) (s models.IceReview) {
	for i := range days {
		d := &days[i].Ice
		s.AskedG += d.AskedG
		s.BoughtG += d.BoughtG
		s.ThrownG += d.ThrownG
		add(&s.PlannedG, d.PlannedG)
		if d.LowestG != nil && (s.LowestG == nil || *d.LowestG < *s.LowestG) {
			s.LowestG = d.LowestG
		}
	}
	return s
}

// allButGone is the part of the bin at or below which counted ice is as good as none.
const allButGone = 0.03

// warnings sets what was warned of beside what came.
func (f *Facts) warnings(days []models.ReviewDay) []models.WarnedReview {
	out := []models.WarnedReview{}
	for _, kind := range []string{models.WarnIceShort, models.WarnBeverageShort} {
		warned := map[models.Date]bool{}
		for _, w := range f.Warned {
			if w.Kind == kind {
				warned[f.Setup.Site.ServiceDayOf(w.At)] = true
			}
		}
		r, came, missed, told := models.WarnedReview{Kind: kind}, 0, 0, false
		for i := range days {
			d := &days[i]
			is := false
			if kind == models.WarnIceShort {
				told = told || d.Ice.LowestG != nil || d.Ice.BoughtG > 0
				is = d.Ice.BoughtG > 0 || (d.Ice.LowestG != nil && *d.Ice.LowestG <= allButGone*f.Setup.Ice.BinG)
			} else {
				for _, x := range d.Drinks {
					told = told || x.OffSaleH > 0
					is = is || x.OffSaleH > 0
				}
				for _, b := range d.Beverages {
					told = told || b.Days > 0
				}
			}
			switch {
			case warned[d.Date]:
				r.Days++
				if is {
					came++
				}
			case is:
				missed++
			}
		}
		if told {
			r.Came, r.Missed = &came, &missed
		}
		if r.Days > 0 || missed > 0 {
			out = append(out, r)
		}
	}
	return out
}

// Days from which on something is advised.
const (
	leastTold = 5
	leastIce  = 7
)

// notes say what cannot be said.
func notes(r *models.Review) []string {
	out := []string{}
	if r.Open == 0 {
		return append(out, "Nothing was counted on these days.")
	}
	switch {
	case r.Told == 0:
		out = append(out, "The kitchen told nothing of what it made: no task was marked as made and no stock was changed. What was made, poured away and left cannot be said.")
	case r.Told < r.Open:
		out = append(out, fmt.Sprintf("Of %d open days the kitchen told of %d; made, poured away and left are of those.", r.Open, r.Told))
	}
	if r.Told < leastTold {
		out = append(out, fmt.Sprintf("What should change in the making is said once %d days are told.", leastTold))
	}
	if r.Ice.LowestG == nil && r.Ice.BoughtG == 0 {
		out = append(out, "Nobody counted the ice on these days, so whether it ran short is not known.")
	}
	for _, d := range r.Drinks {
		if d.OffSaleH > 0 && d.ShortOf == nil {
			out = append(out, "Something was off sale while the forecast had nothing to say of it: what was missed then cannot be said.")
			break
		}
	}
	return out
}
