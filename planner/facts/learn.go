package facts

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
	"hotday/planner/demand/forecast"
	"hotday/planner/review"
)

// Learnt is what a night leaves: the forecast's state, what was said of days that nothing had been said of, and how well the
// manager's word and the forecast have done.
type Learnt struct {
	State     models.ForecastState
	Forecasts []models.DayForecast
	Record    models.TrackRecord
}

// How far back the record goes, days.
const (
	recordDays  = 56 // numbers
	recordWeeks = 26 // weeks, one by one
	leastLearnt = 56 // days before the first day that the past is forecast again for
	gapDays     = 7  // days of the record without a forecast that are made good by forecasting the past again
	weekDays    = 7  // one origin of such forecasts to the next, as plans look ahead
)

// Learn is Refit with what it leaves beside the state. Of days without a forecast it says what yesterday's learners would have said,
// and where a week or more is without, as in the first night, what learners would have said that knew only the days up to the
// week before. step, which may be nil, is told the share that is done. It reads from one state of the store and writes nothing.
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
		all, err := g.sayPast(before, out.State, &past)
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

// saying is what was said of each day; fresh is what was not kept yet.
type saying struct {
	days  map[models.Date]models.DayForecast
	fresh []models.DayForecast
}

func (s *saying) add(d models.DayForecast, ok bool) {
	if !ok {
		return
	}
	if _, had := s.days[d.Date]; !had {
		s.days[d.Date] = d
		s.fresh = append(s.fresh, d)
	}
}

func (g *gathering) sayPast(before, after models.ForecastState, past *keptPast) (saying, error) {
	s := saying{days: map[models.Date]models.DayForecast{}}
	kept, err := g.st.DayForecasts(g.ctx, g.q.Site, g.today.AddDays(-weekDays*recordWeeks), g.today.AddDays(1))
	if err != nil {
		return s, err
	}
	for _, d := range kept {
		s.days[d.Date] = d
	}
	if state, ok := readState(before.Learnt); ok && before.Through != "" {
		for d := before.Through.AddDays(1); d < g.today && before.Through.DaysUntil(d) <= oldest; d = d.AddDays(1) {
			if err := g.sayOnce(&s, d, &state); err != nil {
				return s, err
			}
		}
	}
	if err := g.sayAgain(&s, past); err != nil {
		return s, err
	}
	if state, ok := readState(after.Learnt); ok {
		return s, g.sayOnce(&s, g.today, &state)
	}
	return s, nil
}

func (g *gathering) sayOnce(s *saying, d models.Date, state *forecast.State) error {
	if _, had := s.days[d]; had {
		return nil
	}
	said, ok, err := g.say(d, state)
	s.add(said, ok)
	return err
}

// sayAgain lives the weeks of the record again where they lack forecasts: learners that know the days up to a week speak of the
// next, then learn from it.
func (g *gathering) sayAgain(s *saying, past *keptPast) error {
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
			if err := g.sayOnce(s, d, state); err != nil {
				return err
			}
		}
		o = next
		g.tell(float64(origin.DaysUntil(o)) / all)
		if o < g.today.AddDays(-1) {
			state, err = state.Update(g.ctx, upTo(o))
		}
	}
	return err
}

// say forecasts a service day from a state that ends before it and the weather as it was forecast before the doors opened; where
// none was, as it came. ok is false for a day on which nothing can be said.
func (g *gathering) say(d models.Date, state *forecast.State) (out models.DayForecast, ok bool, err error) {
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
	for _, p := range site.DayParts {
		span := site.DayPartSpan(d, p)
		if !models.Touches(open, span) {
			continue
		}
		a := air.within(span)
		for _, x := range g.r.Drinks {
			if a.SeriesKey = (forecast.SeriesKey{DayPart: p.Code, Drink: x.Code}); state.Knows(a.SeriesKey) {
				a.Date, a.Open = d, true
				rows, errors = append(rows, a), append(errors, tempError)
				out.Rows = append(out.Rows, models.RowForecast{DayPart: p.Code, Drink: x.Code})
			}
		}
	}
	for i, l := range state.PredictWithBasis(rows, errors, []float64{0.1, 0.5, 0.9}) {
		out.Rows[i].P10, out.Rows[i].P50, out.Rows[i].P90 = l.Quantiles[0], l.Quantiles[1], l.Quantiles[2]
	}
	return out, len(out.Rows) > 0, nil
}

// covers reports whether the air of every hour of the spans is known.
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

// record holds what was said against the counts.
func (g *gathering) record(past *keptPast, said map[models.Date]models.DayForecast) (models.TrackRecord, error) {
	from := g.today.AddDays(-weekDays * recordWeeks)
	list, err := g.st.ExpectedDemandHistory(g.ctx, g.q.Site, from, g.today)
	if err != nil {
		return models.TrackRecord{}, err
	}
	words := map[learntRow]models.ExpectedDemandEntry{} // in order of storing: the last one before the doors opened stays
	for _, w := range list {
		if open := g.r.Site.OpenSpans(w.Date); len(open) > 0 && w.StoredAt.Before(open[0].From) {
			words[learntRow{w.Date, w.DayPart, w.Drink}] = w
		}
	}
	var rows []review.RecordRow
	for k := max(0, past.First.DaysUntil(from)); k < past.Days; k++ {
		date := past.First.AddDays(k)
		day := said[date]
		byRow := map[[2]string]*models.RowForecast{}
		for i := range day.Rows {
			byRow[[2]string{day.Rows[i].DayPart, day.Rows[i].Drink}] = &day.Rows[i]
		}
		for i := range past.series {
			part := g.r.Site.DayParts[past.Part[i]].Code
			row := review.RecordRow{Date: date, DayPart: part, Drink: past.Drink[i], Count: past.Counts[i][k], Observed: day.Observed,
				Forecast: byRow[[2]string{part, past.Drink[i]}]}
			if w, ok := words[learntRow{date, part, past.Drink[i]}]; ok && w.Expected != nil {
				row.Override = &w.ExpectedDemand
			}
			rows = append(rows, row)
		}
	}
	r := review.TrackRecord(rows, g.today.AddDays(-recordDays))
	r.MadeAt = g.q.Now
	return r, nil
}
