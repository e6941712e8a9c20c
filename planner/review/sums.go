package review

import "hotday/models"

// add adds x to a sum, unless x is nil.
func add(to **float64, x *float64) {
	if x != nil {
		*to = sumOf(*to, *x)
	}
}

// sumBeverages adds up the reported days of each beverage: opening stock of the first, stock left of the last. Stock left before
// days without reports is unexplained after them, so that the sums balance as each day does.
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
				s.UnexplainedG = sumOf(s.UnexplainedG, *s.LeftG-*b.OpeningG) // lost over days without reports
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

// sumDrinks adds up the days of each drink.
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

// sumIce adds up the ice of the days.
func sumIce(days []models.ReviewDay) (s models.IceReview) {
	for i := range days {
		d := &days[i].Ice
		s.DemandG += d.DemandG
		s.BoughtG += d.BoughtG
		s.ThrownG += d.ThrownG
		add(&s.PlannedG, d.PlannedG)
		if d.LowestG != nil && (s.LowestG == nil || *d.LowestG < *s.LowestG) {
			s.LowestG = d.LowestG
		}
	}
	return s
}

// nearlyEmptyShare is the share of the ice bin at or below which a count means that the ice has run out.
const nearlyEmptyShare = 0.03

// warnings compares the days that were warned of with those on which the shortage happened.
func (f *Facts) warnings(days []models.ReviewDay) []models.WarnedReview {
	out := []models.WarnedReview{}
	for _, kind := range []string{models.WarnIceShort, models.WarnBeverageShort} {
		warned := map[models.Date]bool{}
		for _, w := range f.Warned {
			if w.Kind == kind {
				warned[f.Setup.Site.ServiceDayOf(w.At)] = true
			}
		}
		r, came, missed, known := models.WarnedReview{Kind: kind}, 0, 0, false
		for i := range days {
			d := &days[i]
			short := false
			if kind == models.WarnIceShort {
				known = known || d.Ice.LowestG != nil || d.Ice.BoughtG > 0
				short = d.Ice.BoughtG > 0 || (d.Ice.LowestG != nil && *d.Ice.LowestG <= nearlyEmptyShare*f.Setup.Ice.BinG)
			} else {
				for _, x := range d.Drinks {
					known = known || x.OffSaleH > 0
					short = short || x.OffSaleH > 0
				}
				for _, b := range d.Beverages {
					known = known || b.Days > 0
				}
			}
			switch {
			case warned[d.Date]:
				r.Days++
				if short {
					came++
				}
			case short:
				missed++
			}
		}
		if known {
			r.Came, r.Missed = &came, &missed
		}
		if r.Days > 0 || missed > 0 {
			out = append(out, r)
		}
	}
	return out
}
