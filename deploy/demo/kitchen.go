package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"hotday/models"
)

// toldDays is for how many days before today the kitchen has told what it made and threw away, and how much ice it found.
const toldDays = 13

// KitchensWord is what the kitchen told of the last days: each beverage made before the doors opened, what was left thrown away
// when they closed, and the ice found in the bin in the afternoon. On the Saturday and Sunday before, ice was bought in.
func (s *Story) KitchensWord() (changes []models.StockChange, counts []models.StockCount) {
	site, loc := s.Setup.Site, s.Setup.Site.Location()
	today := site.ServiceDayOf(s.Now)
	sold := s.soldG(today.AddDays(-toldDays))
	for n := toldDays; n >= 1; n-- {
		d := today.AddDays(-n)
		open := site.OpenSpans(d)
		if len(open) == 0 {
			continue
		}
		r := rand.New(rand.NewPCG(uint64(int64(s.day(d))), 14))
		for i := range s.Setup.Beverages {
			b := s.Setup.Beverages[i].Code
			g := sold[dayBeverage{d, b}]
			made := 100 * math.Ceil(g*(1.02+0.14*r.Float64())/100)
			over := made - g
			if made > 0 {
				changes = append(changes, models.StockChange{Kind: "made", Beverage: &b, G: &made, At: open[0].From.Add(-15 * time.Minute)})
			}
			if over > 0 {
				changes = append(changes, models.StockChange{Kind: "discarded", Beverage: &b, G: &over, At: open[len(open)-1].To, Reason: "left at closing"})
			}
		}
		warm := max(0, hottest(s.day(d))-24)
		found := max(400, 14_000-1600*warm+1500*r.NormFloat64())
		counts = append(counts, models.StockCount{CountedAt: d.At(16*60, loc), IceG: &found})
		if k := s.day(d); k == -7 || k == -6 {
			changes = append(changes, models.StockChange{Kind: "bought_in", IceG: new(10_000.0), At: d.At(15*60, loc), Reason: "two bags from the market"})
		}
	}
	return changes, counts
}

type dayBeverage struct {
	day      models.Date
	beverage string
}

// soldG is the grams of each beverage in what was sold on each day from one on.
func (s *Story) soldG(from models.Date) map[dayBeverage]float64 {
	uses := map[string][]models.Use{}
	for _, it := range items {
		for _, d := range s.Setup.Drinks {
			if d.Code == it.drink {
				uses[it.name] = d.Uses
			}
		}
	}
	out := map[dayBeverage]float64{}
	for c := range s.Counts() {
		if d := s.Setup.Site.ServiceDayOf(c.WindowStart); d >= from {
			for _, u := range uses[c.Item] {
				out[dayBeverage{d, u.Beverage}] += u.G * c.Count
			}
		}
	}
	return out
}
