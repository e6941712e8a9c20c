package facts

import (
	"math"
	"slices"
	"time"

	"hotday/models"
	"hotday/planner/demand"
	"hotday/planner/demand/forecast"
	"hotday/planner/say"
)

// weeksBack is the number of weeks of counts that the forecast by weekday uses.
const weeksBack = 8

// forecast fills the rows from the state of the nightly refit; for drinks not in it, and if it never ran, from the counts of the
// same weekday and day part over the last eight weeks. Days without counts, closures, and parts in which the drink was off sale are
// left out; a day with an event is corrected for its effect. A drink without any counts has no row.
func (g *gathering) forecast() error {
	mapped, err := g.mappedDrinks()
	if err != nil || len(mapped) == 0 {
		return err
	}
	learnt, err := g.learnt(mapped)
	if err != nil {
		return err
	}
	loc := g.r.Site.Location()
	off, err := g.offSaleIn(g.today.AddDays(-7*weeksBack-1).At(0, loc), g.q.Now)
	if err != nil {
		return err
	}
	past := map[time.Weekday][]dayCounts{}
	for date := g.first(); date < g.q.From.AddDays(g.q.Days); date = date.AddDays(1) {
		if len(g.r.Site.OpenSpans(date)) == 0 {
			continue
		}
		days, ok := past[date.Weekday()]
		if !ok {
			if days, err = g.sameWeekday(date); err != nil {
				return err
			}
			past[date.Weekday()] = days
		}
		for _, p := range g.r.Site.DayParts {
			if !models.Touches(g.r.Site.OpenSpans(date), g.r.Site.DayPartSpan(date, p)) {
				continue
			}
			for _, d := range g.r.Drinks {
				if row, ok := learnt[learntRow{date, p.Code, d.Code}]; ok {
					g.r.Forecast = append(g.r.Forecast, row)
				} else if mapped[d.Code] {
					if err := g.forecastRow(date, p, d.Code, days, off); err != nil {
						return err
					}
				}
			}
		}
	}
	return nil
}

func (g *gathering) forecastRow(date models.Date, p models.DayPart, drink string, days []dayCounts, off []models.OffSale) error {
	values, err := g.values(p, drink, days, off)
	if err != nil || len(values) == 0 {
		return err
	}
	x := g.exposureOn(date, nil, nil)
	share, err := x.shareOpen(p)
	if err != nil {
		return err
	}
	w := demand.SameWeekday(values)
	basis := say.For(g.r.Site).WeekdayBasis(date.Weekday(), w, share)
	w.Mean *= share
	for i := range w.Quantiles {
		w.Quantiles[i] *= share
	}
	g.r.Forecast = append(g.r.Forecast, models.Forecast{Date: date, DayPart: p.Code, Drink: drink, Mean: w.Mean, Levels: w.Levels, Quantiles: w.Quantiles, Basis: basis})
	return nil
}

// sameWeekday reads the days with counts before today on the weekday of date, oldest first.
func (g *gathering) sameWeekday(date models.Date) ([]dayCounts, error) {
	last := date
	for last >= g.today {
		last = last.AddDays(-7)
	}
	var out []dayCounts
	for k := weeksBack - 1; k >= 0; k-- {
		d := last.AddDays(-7 * k)
		if d < g.today.AddDays(-7*weeksBack) || len(g.r.Site.OpenSpans(d)) == 0 {
			continue
		}
		day, err := g.day(d, g.r.Site.DayEnd(d))
		if err != nil {
			return nil, err
		}
		if !day.last.IsZero() {
			out = append(out, day)
		}
	}
	return out, nil
}

// values returns the servings of a drink in a part on past days, newest last, from its first sale on, scaled to the full usual
// selling time. Days on which it was on sale for less than half of that are left out.
func (g *gathering) values(p models.DayPart, drink string, days []dayCounts, off []models.OffSale) ([]float64, error) {
	first := slices.IndexFunc(days, func(d dayCounts) bool {
		return slices.ContainsFunc(g.r.Site.DayParts, func(p models.DayPart) bool { return d.counts[partDrink{p.Code, drink}] > 0 })
	})
	if first < 0 {
		return nil, nil
	}
	var out []float64
	for _, d := range days[first:] {
		x := g.exposureOn(d.date, g.events, off)
		onSale, weighted, err := x.share(p, drink)
		if err != nil {
			return nil, err
		}
		if onSale >= .5 && weighted >= leastWeighted {
			out = append(out, d.counts[partDrink{p.Code, drink}]/weighted)
		}
	}
	return out, nil
}

// eventFactor is the mean factor of the events over the open time of a span; ok is false if a closure overlaps it or nothing could
// be sold in it.
func (g *gathering) eventFactor(d models.Date, span models.Span) (float64, bool) {
	var all, weighted float64
	for _, o := range g.r.Site.OpenSpans(d) {
		o = o.Overlap(span)
		if o.Empty() {
			continue
		}
		for _, e := range g.events {
			if e.Closed && !o.Overlap(models.Span{From: e.From, To: e.To}).Empty() {
				return 0, false
			}
		}
		all += o.To.Sub(o.From).Minutes()
		weighted += models.EventMinutes(g.events, o)
	}
	if all <= 0 || weighted <= 0 {
		return 0, false
	}
	return weighted / all, true
}

// learntRow names a row of the forecast.
type learntRow struct {
	date        models.Date
	part, drink string
}

// The standard error of a temperature forecast when it is issued, and its increase with each day from then to the hour forecast, °C: an
// old forecast is less certain than a new one. A guess: common practice, no source.
const (
	airError       = 0.8
	airErrorPerDay = 0.4
)

func airErrorAt(lead time.Duration) float64 {
	return airError + airErrorPerDay*max(0, lead.Hours()/24)
}

// leadOf is the mean time from the issue of the forecast to the hours of a span; 0 without a forecast.
func (g *gathering) leadOf(span models.Span) time.Duration {
	var sum time.Duration
	n := 0
	for at := span.From.Unix() / 3600; at*3600 < span.To.Unix(); at++ {
		if d, ok := g.lead[at]; ok {
			sum += max(0, d)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / time.Duration(n)
}

// oldest is the age in days beyond which the state of the nightly refit is no longer used and the forecast by weekday takes over.
const oldest = 28

// readState decodes the state that the refit stored; ok is false for another version, which the next refit replaces.
func readState(b []byte) (s forecast.State, ok bool) {
	err := s.UnmarshalBinary(b)
	return s, err == nil
}

func round3(x float64) float64 { return math.Round(1000*x) / 1000 }

// learnt forecasts the open rows of mapped drinks that the state knows.
func (g *gathering) learnt(mapped map[string]bool) (map[learntRow]models.Forecast, error) {
	kept, err := g.st.ForecastState(g.ctx, g.q.Site)
	if err != nil || kept.Learnt == nil || kept.Through >= g.today || kept.Through.DaysUntil(g.today) > oldest {
		return nil, err
	}
	state, ok := readState(kept.Learnt)
	if !ok {
		return nil, nil
	}
	if c := state.Together(); c.Days > 0 {
		g.r.DemandCorrelation = &models.DemandCorrelation{Day: round3(c.Day), NextDay: round3(c.Next)}
	}
	v := say.For(g.r.Site)
	var names []learntRow
	var rows []forecast.Ahead
	var errors []float64
	air := hourly{}
	for _, w := range g.r.Weather {
		air[w.At.Unix()/3600] = w
	}
	first, end := g.first(), g.q.From.AddDays(g.q.Days)
	for date := max(g.today, first.AddDays(-1)); date <= end; date = date.AddDays(1) {
		x := g.exposureOn(date, g.events, nil)
		name, holiday := g.holiday(date, x.events)
		for _, p := range g.r.Site.DayParts {
			span := g.r.Site.DayPartSpan(date, p)
			a := air.within(span)
			a.Date, a.Holiday, a.HolidayName, a.Event = date, holiday, name, x.named(p)
			a.Open = date >= first && date < end && models.Touches(g.r.Site.OpenSpans(date), span)
			if !a.Open && !holiday {
				continue // a holiday tells of the days around it
			}
			share, err := x.shareOpen(p)
			if err != nil {
				return nil, err
			}
			if share != 1 {
				a.OpenShare = &share
			}
			for _, d := range g.r.Drinks {
				a.SeriesKey, a.Like = forecast.SeriesKey{DayPart: p.Code, Drink: d.Code}, d.Like
				if !mapped[d.Code] && d.Like == "" || !state.KnowsOrLike(a.SeriesKey, d.Like) {
					continue
				}
				names, rows = append(names, learntRow{date, p.Code, d.Code}), append(rows, a)
				errors = append(errors, airErrorAt(g.leadOf(span)))
			}
		}
	}
	levels := []float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95}
	out := make(map[learntRow]models.Forecast, len(rows))
	for i, l := range state.PredictWithBasis(rows, errors, levels) {
		if !rows[i].Open {
			continue
		}
		n := names[i]
		out[n] = models.Forecast{Date: n.date, DayPart: n.part, Drink: n.drink, Mean: l.Mean, Levels: levels, Quantiles: l.Quantiles, Basis: v.ForecastBasis(l.Basis)}
	}
	return out, nil
}
