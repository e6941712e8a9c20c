package demo

import (
	"math"
	"math/rand/v2"
	"time"

	"hotday/models"
)

// Outages has the larger brewer out of order on Sunday morning.
func (s *Story) Outages() []models.Outage {
	sunday, loc := s.Saturday.AddDays(1), s.Setup.Site.Location()
	return []models.Outage{{Kind: "brewer", Code: "Left", From: sunday.At(0, loc), To: sunday.At(12*60, loc)}}
}

// EndOfSaturday is half an hour after closing on the Saturday.
func (s *Story) EndOfSaturday() time.Time {
	open := s.Setup.Site.OpenSpans(s.Saturday)
	return open[len(open)-1].To.Add(30 * time.Minute)
}

// Events is a fair on the quay on Saturday afternoon.
func (s *Story) Events() []models.Event {
	loc := s.Setup.Site.Location()
	return []models.Event{{From: s.Saturday.At(14*60, loc), To: s.Saturday.At(18*60, loc), Name: "Fair on the quay", Factor: 1.1}}
}

// ExpectedDemand is the demand that the manager expects for the weekend. It was last this hot four weeks ago, when the afternoons
// were far busier than usual.
func (s *Story) ExpectedDemand() []models.ExpectedDemand {
	var out []models.ExpectedDemand
	for n := range 2 {
		d := s.Saturday.AddDays(n)
		for _, it := range items {
			if it.drink == "" {
				continue
			}
			for _, p := range s.Setup.Site.DayParts {
				if p.Code != "midday" && p.Code != "afternoon" {
					continue
				}
				expected := math.Round(it.mean(n, d.Weekday()) * it.share(p))
				low, high := math.Floor(0.75*expected), math.Ceil(1.3*expected)
				out = append(out, models.ExpectedDemand{Date: d, DayPart: p.Code, Drink: it.drink, Expected: &expected, P10: &low, P90: &high,
					Note: "as on the last hot weekend"})
			}
		}
	}
	return out
}

// pastWeekends is the number of weekends before the story's for which the manager entered expected demand.
const pastWeekends = 6

// PastExpectedDemand is the demand that the manager expected for past weekends, each entered on its Thursday: a person's estimates, some
// too high, some too low, too high on average.
func (s *Story) PastExpectedDemand() []PastEntry {
	loc := s.Setup.Site.Location()
	var out []PastEntry
	for week := pastWeekends; week >= 1; week-- {
		w := PastEntry{At: s.Saturday.AddDays(-7*week-2).At(15*60, loc)}
		r := rand.New(rand.NewPCG(uint64(week), 13))
		for n := range 2 {
			d := s.Saturday.AddDays(n - 7*week)
			level := math.Exp(0.05 + 0.14*r.NormFloat64())
			for _, it := range items {
				if it.drink == "" {
					continue
				}
				for _, p := range s.Setup.Site.DayParts {
					if p.Code != "midday" && p.Code != "afternoon" {
						continue
					}
					expected := math.Round(level * math.Exp(0.1*r.NormFloat64()) * it.mean(n-7*week, d.Weekday()) * it.share(p))
					low, high := math.Floor(0.75*expected), math.Ceil(1.3*expected)
					w.Rows = append(w.Rows, models.ExpectedDemand{Date: d, DayPart: p.Code, Drink: it.drink, Expected: &expected, P10: &low, P90: &high})
				}
			}
		}
		if w.At.Before(s.Now) {
			out = append(out, w)
		}
	}
	return out
}

// PastEntry is the expected demand entered at a time.
type PastEntry struct {
	At   time.Time
	Rows []models.ExpectedDemand
}

// share is the share of the item's daily sales that falls in a day part.
func (it item) share(p models.DayPart) float64 {
	sum := 0.0
	for m := p.From.Minutes(); m < p.To.Minutes(); m += 15 {
		sum += it.curve(float64(m)/60+0.125) * 0.25
	}
	return sum
}

// StockCount is the stock count taken two hours ago.
func (s *Story) StockCount() models.StockCount {
	ice, plain, tank := s.Setup.Ice.OpeningG, s.Setup.Ice.Plain.OpeningG, s.Setup.Water.OpeningL
	return models.StockCount{CountedAt: s.countedAt(), IceG: &ice, PlainIceG: &plain, TankL: &tank}
}
