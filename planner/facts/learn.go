package facts

import (
	"context"
	"fmt"
	"math"
	"time"

	"hotday/models"
	"hotday/planner/demand/forecast"
	"hotday/planner/review"
)

// Learnt is the result of a nightly refit: the forecast's state, forecasts for days that had none, and the track record of expected
// demand and forecast.
type Learnt struct {
	State     models.ForecastState
	Forecasts []models.DayForecast
	Record    models.TrackRecord
}

// How far back the track record goes, in days.
const (
	recordDays  = 56 // numbers
	recordWeeks = 26 // weeks, one by one
	leastLearnt = 56 // least history before the first backfilled day
	gapDays     = 7  // missing forecasts in the record from which on they are backfilled
	weekDays    = 7  // from one origin of the backfill to the next, as far as plans look ahead
)

// Learn does a refit and also forecasts days that have no stored forecast, and computes the track record. The missing days since
// the last refit are forecast from its state; if a week or more is missing, as on the first night, each week is forecast from a
// state fitted to the days before it. step, if not nil, is called with the fraction done. Learn reads from one state of the store
// and writes nothing.
func Learn(ctx context.Context, store models.Store, site string, now time.Time, step func(share float64)) (Learnt, error) {
	if step == nil {
		step = func(float64) {}
	}
	var out Learnt
	err := store.Read(ctx, func(st models.Store) error {
		g, before, err := refitting(ctx, st, site, now)
		if err != nil {
			return err
		}
		g.step = func(share float64) { step(0.4 * share) }
		past, err := g.learntPast(before)
		if err != nil {
			return err
		}
		if out.State, err = learn(ctx, before, past, now); err != nil {
			return err
		}
		step(0.5)
		g.step = func(share float64) { step(0.5 + 0.5*share) }
		all, err := g.forecastPast(before, out.State, &past)
		if err != nil {
			return err
		}
		out.Forecasts = all.fresh
		out.Record, err = g.record(&past, all.days)
		return err
	})
	if err != nil {
		return Learnt{}, fmt.Errorf("let the forecast of %s learn: %w", site, err)
	}
	return out, nil
}

// dayForecasts is the forecast for each day; fresh is those not stored yet.
type dayForecasts struct {
	days  map[models.Date]models.DayForecast
	fresh []models.DayForecast
}

func (s *dayForecasts) add(d models.DayForecast, ok bool) {
	if !ok {
		return
	}
	if _, had := s.days[d.Date]; !had {
		s.days[d.Date] = d
		s.fresh = append(s.fresh, d)
	}
}

func (g *gathering) forecastPast(before, after models.ForecastState, past *keptPast) (dayForecasts, error) {
	s := dayForecasts{days: map[models.Date]models.DayForecast{}}
	kept, err := g.st.DayForecasts(g.ctx, g.q.Site, g.today.AddDays(-weekDays*recordWeeks), g.today.AddDays(1))
	if err != nil {
		return s, err
	}
	for _, d := range kept {
		s.days[d.Date] = d
	}
	if state, ok := readState(before.Learnt); ok && before.Through != "" {
		for d := before.Through.AddDays(1); d < g.today && before.Through.DaysUntil(d) <= oldest; d = d.AddDays(1) {
			if err := g.forecastOnce(&s, d, &state); err != nil {
				return s, err
			}
		}
	}
	if err := g.backfill(&s, past); err != nil {
		return s, err
	}
	if state, ok := readState(after.Learnt); ok {
		return s, g.forecastOnce(&s, g.today, &state)
	}
	return s, nil
}

func (g *gathering) forecastOnce(s *dayForecasts, d models.Date, state *forecast.State) error {
	if _, had := s.days[d]; had {
		return nil
	}
	f, ok, err := g.forecastDay(d, state)
	s.add(f, ok)
	return err
}

// backfill forecasts the weeks of the record that have no forecasts: a state fitted to the days up to a week forecasts the next
// week and is then updated with it.
func (g *gathering) backfill(s *dayForecasts, past *keptPast) error {
	rows := past.rows()
	if len(rows) == 0 {
		return nil
	}
	first := rows[0].Date
	for _, r := range rows {
		first = min(first, r.Date)
	}
	lacking, origin := 0, models.Date("")
	for d := max(g.today.AddDays(-recordDays), first.AddDays(leastLearnt)); d < g.today; d = d.AddDays(1) {
		if _, had := s.days[d]; !had && len(g.r.Site.OpenSpans(d)) > 0 {
			lacking++
			if origin == "" {
				origin = d.AddDays(-1)
			}
		}
	}
	if lacking < gapDays {
		return nil
	}
	upTo := func(d models.Date) []forecast.Past {
		var out []forecast.Past
		for _, r := range rows {
			if r.Date <= d {
				out = append(out, r)
			}
		}
		return out
	}
	all := float64(origin.DaysUntil(g.today))
	state, err := forecast.Fit(g.ctx, upTo(origin))
	for o := origin; err == nil && o < g.today.AddDays(-1); {
		next := o.AddDays(weekDays)
		for d := o.AddDays(1); d <= next && d < g.today; d = d.AddDays(1) {
			if err := g.forecastOnce(s, d, state); err != nil {
				return err
			}
		}
		o = next
		g.report(float64(origin.DaysUntil(o)) / all)
		if o < g.today.AddDays(-1) {
			state, err = state.Update(g.ctx, upTo(o))
		}
	}
	return err
}

// forecastDay forecasts a service day from a state that ends before it and the weather as it was forecast before opening, or the
// observed weather if there was no forecast. ok is false if there is nothing to forecast.
func (g *gathering) forecastDay(d models.Date, state *forecast.State) (out models.DayForecast, ok bool, err error) {
	site := &g.r.Site
	open := site.OpenSpans(d)
	if len(open) == 0 {
		return out, false, nil
	}
	from, to := d.At(0, site.Location()), site.DayEnd(d)
	hours, err := g.st.Weather(g.ctx, g.q.Site, from, to, open[0].From)
	if err != nil {
		return out, false, err
	}
	out = models.DayForecast{Date: d, MadeAt: g.q.Now}
	tempError := airError
	if air := airOf(hours); !air.covers(open) {
		if hours, err = g.st.Weather(g.ctx, g.q.Site, from, to, g.q.Now); err != nil {
			return out, false, err
		}
		out.Observed, tempError = len(hours) > 0, 0
	}
	air := airOf(hours)
	var rows []forecast.Ahead
	var errors []float64
	exposed := g.exposureOn(d, g.events, nil)
	for _, p := range site.DayParts {
		span := site.DayPartSpan(d, p)
		if !models.Touches(open, span) {
			continue
		}
		a := air.within(span)
		a.Date, a.Open, a.Event = d, true, exposed.named(p)
		a.HolidayName, a.Holiday = g.holiday(d, exposed.events)
		for _, x := range g.r.Drinks {
			if a.SeriesKey, a.Like = (forecast.SeriesKey{DayPart: p.Code, Drink: x.Code}), x.Like; state.KnowsOrLike(a.SeriesKey, a.Like) {
				rows, errors = append(rows, a), append(errors, tempError)
				out.Rows = append(out.Rows, models.RowForecast{DayPart: p.Code, Drink: x.Code})
			}
		}
	}
	for i, l := range state.PredictWithBasis(rows, errors, []float64{0.1, 0.5, 0.9}) {
		q := l.Continuous
		out.Rows[i].Mean, out.Rows[i].P10, out.Rows[i].P50, out.Rows[i].P90, out.Rows[i].None = &l.Mean, q[0], q[1], q[2], l.None
	}
	return out, len(out.Rows) > 0, nil
}

// covers reports whether there is weather for every hour of the spans.
func (h hourly) covers(spans []models.Span) bool {
	for _, s := range spans {
		for at := s.From.Unix() / 3600; at*3600 < s.To.Unix(); at++ {
			if _, ok := h[at]; !ok {
				return false
			}
		}
	}
	return true
}

// leastRecorded is the smallest share of its usual selling time for which a count is compared with the forecast of the whole of it.
const leastRecorded = 0.8

// wholeCount is the count of a series on a day for the whole of its usual selling time and without the effect of events; NaN where
// that would be a guess.
func (p *keptPast) wholeCount(i, k int) float64 {
	if !(p.Shares[i][k] >= leastRecorded) {
		return math.NaN()
	}
	return p.Counts[i][k] / p.Shares[i][k]
}

// record compares expected demand and forecasts with the counts.
func (g *gathering) record(past *keptPast, forecasts map[models.Date]models.DayForecast) (models.TrackRecord, error) {
	from := g.today.AddDays(-weekDays * recordWeeks)
	list, err := g.st.ExpectedDemandHistory(g.ctx, g.q.Site, from, g.today)
	if err != nil {
		return models.TrackRecord{}, err
	}
	entries := map[learntRow]models.ExpectedDemandEntry{} // in order of storing: the last one before opening wins
	for _, w := range list {
		if open := g.r.Site.OpenSpans(w.Date); len(open) > 0 && w.StoredAt.Before(open[0].From) {
			entries[learntRow{w.Date, w.DayPart, w.Drink}] = w
		}
	}
	var rows []review.RecordRow
	for k := max(0, past.First.DaysUntil(from)); k < past.Days; k++ {
		date := past.First.AddDays(k)
		day := forecasts[date]
		byRow := map[[2]string]*models.RowForecast{}
		for i := range day.Rows {
			byRow[[2]string{day.Rows[i].DayPart, day.Rows[i].Drink}] = &day.Rows[i]
		}
		for i := range past.series {
			part := g.r.Site.DayParts[past.Part[i]].Code
			row := review.RecordRow{Date: date, DayPart: part, Drink: past.Drink[i], Count: past.wholeCount(i, k), Observed: day.Observed,
				Forecast: byRow[[2]string{part, past.Drink[i]}]}
			if w, ok := entries[learntRow{date, part, past.Drink[i]}]; ok && w.Expected != nil {
				row.Override = &w.ExpectedDemand
			}
			rows = append(rows, row)
		}
	}
	r := review.TrackRecord(rows, g.today.AddDays(-recordDays))
	r.MadeAt = g.q.Now
	return r, nil
}
