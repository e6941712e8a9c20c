package review

import (
	"slices"
	"time"

	"hotday/models"
)

// ToldDay is what was told of a beverage on a service day, g: what came into the cold store, what went, and what was found.
type ToldDay struct {
	Ends       time.Time // of the service day
	Hold       time.Duration
	Made       []models.Stock // made, or bought in
	SoldG      float64
	PouredG    float64
	PouredRest bool     // somebody said that what had passed its time was thrown away, without how much
	FoundFirst *float64 // counted before the doors opened
	FoundLast  *float64 // counted after they closed
}

// Ledger is the book of a beverage from day to day.
type Ledger struct{ lots []models.Stock }

// Left is what the book says is there, g.
func (l *Ledger) Left() float64 {
	g := 0.0
	for i := range l.lots {
		g += l.lots[i].G
	}
	return g
}

// Day books a day and returns it balanced: opening + made = sold + poured away + left + unexplained. What was found counts more
// than the book; what passed its time and was not told is unexplained.
func (l *Ledger) Day(d ToldDay) models.BeverageReview {
	opening, made, poured, unexplained, past := l.Left(), 0.0, d.PouredG, 0.0, 0.0
	if d.FoundFirst != nil {
		unexplained += opening - *d.FoundFirst
		l.found(*d.FoundFirst, d.Ends)
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
		if d.PouredRest {
			poured += s.G
		} else {
			past += s.G
		}
		return true
	})
	unexplained += past
	if d.FoundLast != nil {
		unexplained += l.Left() - *d.FoundLast
		l.found(*d.FoundLast, d.Ends)
	}
	left := l.Left()
	return models.BeverageReview{Days: 1, OpeningG: &opening, MadeG: &made, SoldG: d.SoldG, PouredG: &poured, LeftG: &left,
		UnexplainedG: &unexplained, PastUseByG: &past}
}

// take takes grams from the oldest lots and returns what was not there.
func (l *Ledger) take(g float64) float64 {
	for i := range l.lots {
		t := min(g, l.lots[i].G)
		l.lots[i].G -= t
		g -= t
	}
	l.lots = slices.DeleteFunc(l.lots, func(s models.Stock) bool { return s.G <= 0 })
	return g
}

// found puts what was counted in place of the book, as old as the newest lot of the book, or fresh where that had none.
func (l *Ledger) found(g float64, fresh time.Time) {
	if n := len(l.lots); n > 0 {
		fresh = l.lots[n-1].MadeAt
	}
	l.lots = []models.Stock{{G: g, MadeAt: fresh}}
	if g <= 0 {
		l.lots = nil
	}
}
