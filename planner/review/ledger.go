package review

import (
	"slices"
	"time"

	"hotday/models"
)

// DayRecord is the recorded movements and counts of a beverage on a service day, g.
type DayRecord struct {
	Ends          time.Time // of the service day
	Hold          time.Duration
	Made          []models.Stock // made, or bought in
	SoldG         float64
	PouredG       float64
	PouredAllPast bool     // whatever was past its use-by was marked as thrown away, without an amount
	CountedFirst  *float64 // before opening; nil: not counted
	CountedLast   *float64 // after closing; nil: not counted
}

// Ledger is the running stock of a beverage by lot. The zero value is empty.
type Ledger struct{ lots []models.Stock }

// Left is the stock, g.
func (l *Ledger) Left() float64 {
	g := 0.0
	for i := range l.lots {
		g += l.lots[i].G
	}
	return g
}

// Day posts a day and returns its balance: opening + made = sold + poured away + left + unexplained. A count overrides the ledger;
// beverage past its use-by that nobody recorded as thrown away is unexplained.
func (l *Ledger) Day(d DayRecord) models.BeverageReview {
	opening, made, poured, unexplained, past := l.Left(), 0.0, d.PouredG, 0.0, 0.0
	if d.CountedFirst != nil {
		unexplained += opening - *d.CountedFirst
		l.counted(*d.CountedFirst, d.Ends)
	}
	for _, s := range d.Made {
		made += s.G
		l.lots = append(l.lots, s)
	}
	slices.SortStableFunc(l.lots, func(a, b models.Stock) int { return a.MadeAt.Compare(b.MadeAt) })
	unexplained -= l.take(d.SoldG) + l.take(d.PouredG)
	l.lots = slices.DeleteFunc(l.lots, func(s models.Stock) bool {
		if s.MadeAt.Add(d.Hold).After(d.Ends) {
			return false
		}
		if d.PouredAllPast {
			poured += s.G
		} else {
			past += s.G
		}
		return true
	})
	unexplained += past
	if d.CountedLast != nil {
		unexplained += l.Left() - *d.CountedLast
		l.counted(*d.CountedLast, d.Ends)
	}
	left := l.Left()
	return models.BeverageReview{Days: 1, OpeningG: &opening, MadeG: &made, SoldG: d.SoldG, PouredG: &poured, LeftG: &left,
		UnexplainedG: &unexplained, PastUseByG: &past}
}

// take removes g grams, oldest lots first, and returns how much of it was not in stock.
func (l *Ledger) take(g float64) float64 {
	for i := range l.lots {
		t := min(g, l.lots[i].G)
		l.lots[i].G -= t
		g -= t
	}
	l.lots = slices.DeleteFunc(l.lots, func(s models.Stock) bool { return s.G <= 0 })
	return g
}

// counted replaces the stock with a count, of the age of the newest lot; made at fresh if there was no lot.
func (l *Ledger) counted(g float64, fresh time.Time) {
	if n := len(l.lots); n > 0 {
		fresh = l.lots[n-1].MadeAt
	}
	l.lots = []models.Stock{{G: g, MadeAt: fresh}}
	if g <= 0 {
		l.lots = nil
	}
}
