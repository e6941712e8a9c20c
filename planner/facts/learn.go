package facts

import (
	"context"
	"fmt"
	"math"
	"slices"
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
// state fitted to the days before it. step, if not nil, is called with the fraction done. Learn reads from one state of the store, which
// it holds no longer when it computes, and writes nothing.
func Learn(ctx context.Context, store models.Store, site string, now time.Time, step func(share float64)) (out Learnt, err error) {
	if step == nil {
		step = func(float64) {}
	}
	g, err := readLearning(ctx, store, site, now, step, (*learning).readRecord)
	if err != nil {
		return Learnt{}, err
	}
	if out.State, err = g.learn(); err == nil {
		step(0.5)
		g.step = func(share float64) { step(0.5 + 0.5*share) }
		var all dayForecasts
		if all, err = g.forecastPast(out.State); err == nil {
			out.Forecasts, out.Record = all.fresh, g.record(all.days)
		}
	}
	if err != nil {
		return Learnt{}, fmt.Errorf("let the forecast of %s learn: %w", site, err)
	}
	return out, nil
}

// learning is what a refit reads of the store, to compute from it.
type learning struct {
	*gathering // without a store
	before     models.ForecastState
	past       keptPast
	kept       []models.DayForecast
	weather    map[models.Date]dayWeather // of days without a forecast
	demand     []models.ExpectedDemandEntry
}

// dayWeather is the weather by which a service day is forecast.
type dayWeather struct {
	hours    []models.WeatherRow
	observed bool // there was no forecast before opening
}

// readLearning reads the history, then what more says, from one state of the store.
func readLearning(ctx context.Context, store models.Store, site string, now time.Time, step func(share float64), more func(*learning) error) (*learning, error) {
	g := &learning{}
	err := store.Read(ctx, func(st models.Store) (err error) {
		if g.gathering, g.before, err = refitting(ctx, st, site, now); err != nil {
			return err
		}
		g.step = func(share float64) { step(0.4 * share) }
		if g.past, err = g.learntPast(g.before); err != nil {
			return err
		}
		return more(g)
	})
	if err != nil {
		return nil, fmt.Errorf("let the forecast of %s learn: %w", site, err)
	}
	g.st = nil
	return g, nil
}

// readRecord reads what the forecasts of past days and the track record need.
func (g *learning) readRecord() (err error) {
	from := g.today.AddDays(-weekDays * recordWeeks)
	if g.kept, err = g.st.DayForecasts(g.ctx, g.q.Site, from, g.today.AddDays(1)); err != nil {
		return err
	}
	if g.demand, err = g.st.ExpectedDemandHistory(g.ctx, g.q.Site, from, g.today); err != nil {
		return err
	}
	g.weather = map[models.Date]dayWeather{}
	had := map[models.Date]bool{}
	for _, d := range g.kept {
		had[d.Date] = true
	}
	for _, d := range slices.Concat(g.missed(), g.recent()) {
		if _, read := g.weather[d]; read || had[d] {
			continue
		}
		if err := g.readWeather(d); err != nil {
			return err
		}
	}
	return nil
}

// missed are the days since the last refit that its state forecasts.
func (g *learning) missed() (out []models.Date) {
	if g.before.Through == "" {
		return nil
	}
	for d := g.before.Through.AddDays(1); d < g.today && g.before.Through.DaysUntil(d) <= oldest; d = d.AddDays(1) {
		out = append(out, d)
	}
	return out
}

// recent are the days of the record's numbers, and the day that begins.
func (g *learning) recent() (out []models.Date) {
	for d := g.today.AddDays(-recordDays); d <= g.today; d = d.AddDays(1) {
		out = append(out, d)
	}
	return out
}

// readWeather reads the weather of a service day as it was forecast before opening, or the observed weather if there was no forecast.
func (g *learning) readWeather(d models.Date) error {
	site := &g.r.Site
	open := site.OpenSpans(d)
	if len(open) == 0 {
		return nil
	}
	from, to := d.At(0, site.Location()), site.DayEnd(d)
	hours, err := g.st.Weather(g.ctx, g.q.Site, from, to, open[0].From)
	if err != nil {
		return err
	}
	w := dayWeather{hours: hours}
	if !airOf(hours).covers(open) {
		if w.hours, err = g.st.Weather(g.ctx, g.q.Site, from, to, g.q.Now); err != nil {
			return err
		}
		w.observed = len(w.hours) > 0
	}
	g.weather[d] = w
	return nil
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

func (g *learning) forecastPast(after models.ForecastState) (dayForecasts, error) {
	s := dayForecasts{days: map[models.Date]models.DayForecast{}}
	for _, d := range g.kept {
		s.days[d.Date] = d
	}
	if state, ok := readState(g.before.Learnt); ok {
		for _, d := range g.missed() {
			g.forecastOnce(&s, d, &state)
		}
	}
	if err := g.backfill(&s); err != nil {
		return s, err
	}
	if state, ok := readState(after.Learnt); ok {
		g.forecastOnce(&s, g.today, &state)
	}
	return s, nil
}

func (g *learning) forecastOnce(s *dayForecasts, d models.Date, state *forecast.State) {
	if _, had := s.days[d]; had {
		return
	}
	s.add(g.forecastDay(d, state))
}

// backfill forecasts the weeks of the record that have no forecasts: a state fitted to the days up to a week forecasts the next
// week and is then updated with it.
func (g *learning) backfill(s *dayForecasts) error {
	rows := g.past.rows()
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
			g.forecastOnce(s, d, state)
		}
		o = next
		g.report(float64(origin.DaysUntil(o)) / all)
		if o < g.today.AddDays(-1) {
			state, err = state.Update(g.ctx, upTo(o))
		}
	}
	return err
}

// forecastDay forecasts a service day from a state that ends before it and its weather. ok is false if there is nothing to forecast.
func (g *learning) forecastDay(d models.Date, state *forecast.State) (out models.DayForecast, ok bool) {
	site := &g.r.Site
	open := site.OpenSpans(d)
	if len(open) == 0 {
		return out, false
	}
	w := g.weather[d]
	air := airOf(w.hours)
	out = models.DayForecast{Date: d, MadeAt: g.q.Now, Observed: w.observed}
	tempError := airError
	if w.observed {
		tempError = 0
	}
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
	return out, len(out.Rows) > 0
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
func (g *learning) record(forecasts map[models.Date]models.DayForecast) models.TrackRecord {
	from := g.today.AddDays(-weekDays * recordWeeks)
	past := &g.past
	entries := map[learntRow]models.ExpectedDemandEntry{} // in order of storing: the last one before opening wins
	for _, w := range g.demand {
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
	return r
}
