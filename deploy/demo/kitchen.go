package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"hotday/models"
)

// kitchenLogDays is the number of days before today that the kitchen has logged.
const kitchenLogDays = 13

// KitchenLog returns the kitchen's log of the days before today: each beverage made before opening, leftovers discarded at
// closing, and the ice counted in the afternoon. On the Saturday and Sunday before, ice was bought in.
func (s *Story) KitchenLog() (changes []models.StockChange, counts []models.StockCount) {
	site, loc := s.Setup.Site, s.Setup.Site.Location()
	today := site.ServiceDayOf(s.Now)
	sold := s.soldG(today.AddDays(-kitchenLogDays))
	for n := kitchenLogDays; n >= 1; n-- {
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
			leftover := made - g
			if made > 0 {
				changes = append(changes, models.StockChange{Kind: "made", Beverage: &b, G: &made, At: open[0].From.Add(-15 * time.Minute)})
			}
			if leftover > 0 {
				changes = append(changes, models.StockChange{Kind: "discarded", Beverage: &b, G: &leftover, At: open[len(open)-1].To, Reason: "left at closing"})
			}
		}
		above24 := max(0, maxTemp(s.day(d))-24)
		ice := max(400, 14_000-1600*above24+1500*r.NormFloat64())
		counts = append(counts, models.StockCount{CountedAt: d.At(16*60, loc), IceG: &ice})
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

// soldG returns the grams of each beverage sold on each service day from the given one on.
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
