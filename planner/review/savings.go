package review

import (
	"math"

	"hotday/models"
)

// savingsAdvice lists the changes to the shop that would clearly have saved in the latest replay, if that has days of the review and the
// shop is still of the size that was replayed.
func (f *Facts) savingsAdvice(r *models.Review) []models.Advice {
	p := f.Replay
	if p == nil || p.To < r.From || p.From >= r.From.AddDays(r.Days) {
		return nil
	}
	var out []models.Advice
	for _, x := range p.Savings {
		if !x.Clear || !f.stillOfSize(&x) {
			continue
		}
		out = append(out, models.Advice{Kind: x.Kind, Days: x.Days, Of: x.Of, Amount: x.Amount, Unit: savingUnits[x.Kind], Money: &x.Money, MoneyLow: &x.Low, MoneyHigh: &x.High})
	}
	return out
}

var savingUnits = map[string]string{models.AdviceHold: "h", models.AdviceBath: "baths", models.AdviceIceBin: "kg"}

// stillOfSize reports whether the set-up is as it was when the change was replayed.
func (f *Facts) stillOfSize(x *models.ReplaySaving) bool {
	s := &f.Setup
	is := math.NaN()
	switch x.Kind {
	case models.AdviceHold:
		for i := range s.Beverages {
			if h := s.Beverages[i].HoldH; h == x.Was {
				is = h
			}
		}
	case models.AdviceBath:
		if s.Site.Baths != nil {
			is = float64(*s.Site.Baths)
		}
	case models.AdviceIceBin:
		is = s.Ice.BinG / 1000
	}
	return is == x.Was
}
