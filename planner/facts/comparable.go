package facts

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
)

// How many past days a row is compared with, and how many weeks back they are searched for.
const (
	comparableDays  = 8
	comparableWeeks = 13
)

// ComparedRow names a row of demand by its weekday.
type ComparedRow struct {
	Weekday        time.Weekday
	DayPart, Drink string
}

// ComparableDay is the sales of a drink in a day part of a past day.
type ComparableDay struct {
	Date   models.Date
	Count  float64  // servings
	TempC  *float64 // °C, mean of the observed air over the part; nil: not observed
	Events []string // names of those that touched the part
}

// ComparableDays returns the last eight comparable days of each row of a request: same weekday and day part, newest first, with
// their counts. Days without counts, parts that were closed or in which the drink was off sale, and days before a drink's first
// sale carry no information on demand and are left out. If st is a read transaction, everything comes from one state of the store.
func ComparableDays(ctx context.Context, st models.Store, r models.PlanRequest, now time.Time) (map[ComparedRow][]ComparableDay, error) {
	g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: r.Site.Code, From: r.From, Days: r.Days, Now: now}, r: &r, today: r.Site.ServiceDayOf(now)}
	out := map[ComparedRow][]ComparableDay{}
	past, err := g.comparablePast()
	if err == nil {
		for k := range min(r.Days, 7) {
			if err = g.compareDay(r.From.AddDays(k), past, out); err != nil {
				break
			}
		}
	}
	if err != nil {
		return nil, fmt.Errorf("look for days to compare with: %w", err)
	}
	return out, nil
}

// comparableState is the data, apart from the counts, that decides whether a past day part is comparable.
type comparableState struct {
	mapped map[string]bool
	events []models.Event
	off    []models.OffSale
	air    map[time.Time]float64 // °C by hour, UTC
}

func (g *gathering) comparablePast() (p comparableState, err error) {
	from := g.today.AddDays(-7*comparableWeeks-1).At(0, g.r.Site.Location())
	if p.mapped, err = g.mappedDrinks(); err != nil || len(p.mapped) == 0 {
		return p, err
	}
	if p.events, err = g.st.Events(g.ctx, g.q.Site, from, g.q.Now); err != nil {
		return p, err
	}
	if p.off, err = g.offSaleIn(from, g.q.Now); err != nil {
		return p, err
	}
	list, err := g.st.Weather(g.ctx, g.q.Site, from, g.q.Now, time.Time{})
	p.air = map[time.Time]float64{}
	for _, w := range list {
		if w.Kind == models.WeatherObserved {
			p.air[w.At.UTC().Truncate(time.Hour)] = w.TempC
		}
	}
	return p, err
}

// compareDay adds the rows of one date.
func (g *gathering) compareDay(date models.Date, past comparableState, out map[ComparedRow][]ComparableDay) error {
	if len(past.mapped) == 0 {
		return nil
	}
	days, err := g.comparableCounts(date, past)
	if err != nil {
		return err
	}
	for _, drink := range g.r.Drinks {
		if !past.mapped[drink.Code] {
			continue
		}
		known := days
		for len(known) > 0 && !anySold(known[len(known)-1], g.r.Site.DayParts, drink.Code) { // before its first sale
			known = known[:len(known)-1]
		}
		for _, part := range g.r.Site.DayParts {
			key := ComparedRow{date.Weekday(), part.Code, drink.Code}
			for _, day := range known {
				if row, ok := g.comparableDay(day, part, drink.Code, past); ok && len(out[key]) < comparableDays {
					out[key] = append(out[key], row)
				}
			}
		}
	}
	return nil
}

// comparableCounts reads the days with counts on a date's weekday before today, newest first, going back up to thirteen weeks until
// every drink has its eight.
func (g *gathering) comparableCounts(date models.Date, past comparableState) ([]dayCounts, error) {
	var days []dayCounts
	last := date
	for last >= g.today {
		last = last.AddDays(-7)
	}
	whole := 0
	for k := 0; k < comparableWeeks && whole < comparableDays; k++ {
		d := last.AddDays(-7 * k)
		if len(g.r.Site.OpenSpans(d)) == 0 {
			continue
		}
		day, err := g.day(d, g.r.Site.DayEnd(d))
		if err != nil {
			return nil, err
		}
		if day.last.IsZero() {
			continue
		}
		days = append(days, day)
		if !past.partly(g.r.Site, d) {
			whole++
		}
	}
	return days, nil
}

// partly reports whether something was off sale or closed for part of the day.
func (p comparableState) partly(site models.Site, d models.Date) bool {
	day := models.Span{From: d.At(0, site.Location()), To: site.DayEnd(d)}
	for _, e := range p.events {
		if e.Closed && !(models.Span{From: e.From, To: e.To}).Overlap(day).Empty() {
			return true
		}
	}
	for _, o := range p.off {
		if o.From.Before(day.To) && (o.To == nil || o.To.After(day.From)) {
			return true
		}
	}
	return false
}

func anySold(d dayCounts, parts []models.DayPart, drink string) bool {
	for _, p := range parts {
		if d.counts[partDrink{p.Code, drink}] > 0 {
			return true
		}
	}
	return false
}

// comparableDay is the sales of a drink in a part of a past day; ok is false if the part is not comparable.
func (g *gathering) comparableDay(day dayCounts, part models.DayPart, drink string, past comparableState) (row ComparableDay, ok bool) {
	span := g.r.Site.DayPartSpan(day.date, part)
	if !models.Touches(g.r.Site.OpenSpans(day.date), span) || offSale(past.off, drink, span) {
		return row, false
	}
	row = ComparableDay{Date: day.date, Count: day.counts[partDrink{part.Code, drink}]}
	for _, e := range past.events {
		if (models.Span{From: e.From, To: e.To}).Overlap(span).Empty() {
			continue
		}
		if e.Closed {
			return row, false
		}
		row.Events = append(row.Events, e.Name)
	}
	sum, n := 0.0, 0
	for at := span.From.UTC().Truncate(time.Hour); at.Before(span.To); at = at.Add(time.Hour) {
		if t, known := past.air[at]; known {
			sum, n = sum+t, n+1
		}
	}
	if n > 0 {
		mean := sum / float64(n)
		row.TempC = &mean
	}
	return row, true
}
