package forecast

import (
	"math"
	"slices"
)

// Prediction is the forecast of one day with the facts behind it; empty for a closed day. Continuous holds its quantiles before they
// are rounded to counts, each count spread evenly over ±½, and None the probability of selling nothing: with both, a count can be
// placed in the distribution (probability integral transform).
type Prediction struct {
	Day
	Continuous []float64
	None       float64
	Basis      []Note
}

// Predict forecasts rows, which must be valid, at levels, in the order given.
func (st *State) Predict(rows []Ahead, levels []float64) Answer {
	a := Answer{Rows: make([]Day, 0, len(rows)), Notes: slices.Clone(st.notes)}
	if st.last < 0 {
		for i := range rows {
			a.Rows = append(a.Rows, Day{SeriesKey: rows[i].SeriesKey, Date: rows[i].Date, Quantiles: make([]float64, len(levels))})
		}
		a.Notes = append(a.Notes, Note{Code: NoHistory})
		return a
	}
	axis, index := st.axis(rows)
	coldStart, hottest, missing := map[SeriesKey]bool{}, 0.0, 0
	for k := range rows {
		r := &rows[k]
		if !r.Open {
			a.Rows = append(a.Rows, Day{SeriesKey: r.SeriesKey, Date: r.Date, Quantiles: make([]float64, len(levels))})
			continue
		}
		p := st.targetOf(axis, index, r)
		q, mean := st.predict(p)
		if r.TempC == nil && st.climate.Use[wTemp] && p.i >= 0 {
			st.widenForTemp(p, q[:], st.climate.Sway)
			missing++
		}
		a.Rows = append(a.Rows, p.answer(&q, mean, levels))
		if p.i < 0 && p.like < 0 {
			coldStart[p.s.key] = true
		}
		if x := p.tempC(); st.climate.Use[wTemp] && x > st.climate.Hotter+0.5 {
			hottest = max(hottest, x)
		}
		for _, note := range st.effectNotes(p) {
			if r.OpenShare == nil && !slices.Contains(a.Notes, note) { // a row with a share was given for its hours
				a.Notes = append(a.Notes, note)
			}
		}
	}
	for _, s := range axis {
		if coldStart[s.key] {
			a.Notes = append(a.Notes, Note{Code: ColdStart, Series: s.key.label()})
		}
	}
	if missing > 0 {
		a.Notes = append(a.Notes, Note{Code: DaysWithoutTemp, Days: missing})
	}
	if hottest > 0 {
		a.Notes = append(a.Notes, Note{Code: BeyondHistory, TempC: hottest, KnownC: st.climate.Hotter})
	}
	return a
}

// KnowsOrLike reports whether a series can be forecast: the state has learnt from its history, or from that of the drink that stands in for
// it, if like names one.
func (st *State) KnowsOrLike(series SeriesKey, like string) bool {
	return st.Knows(series) || like != "" && st.Knows(SeriesKey{DayPart: series.DayPart, Drink: like})
}

// Knows reports whether the state has learnt from the history of a series.
func (st *State) Knows(series SeriesKey) bool {
	series = st.keyOf(series)
	return slices.ContainsFunc(st.tails, func(t tail) bool { return t.Key == series })
}

// PredictWithBasis forecasts open days, as Predict does, each with its basis. Closed days only convey
// holidays, and their result is empty. tempErrorC is the standard error of each row's temperature forecast in °C, which widens the
// range.
func (st *State) PredictWithBasis(rows []Ahead, tempErrorC, levels []float64) []Prediction {
	if st.last < 0 {
		return nil
	}
	axis, index := st.axis(rows)
	out := make([]Prediction, len(rows))
	for k := range rows {
		if !rows[k].Open {
			continue
		}
		p := st.targetOf(axis, index, &rows[k])
		q, mean := st.predict(p)
		basis := append(st.basis(p), st.effectNotes(p)...)
		if p.i >= 0 && st.tails[p.i].Capped > 0 {
			basis = append(basis, Note{Code: Capped, Days: st.tails[p.i].Capped, Date: st.tails[p.i].CappedLast})
		}
		switch {
		case !st.climate.Use[wTemp]:
		case rows[k].TempC == nil:
			st.widenForTemp(p, q[:], st.climate.Sway)
			basis = append(basis, Note{Code: NoTempAhead})
		default:
			st.widenForTemp(p, q[:], tempErrorC[k])
		}
		out[k] = Prediction{Day: p.answer(&q, mean, levels), Continuous: make([]float64, len(levels)), None: levelAt(q[:], .5), Basis: basis}
		for i, l := range levels {
			out[k].Continuous[i] = quantileAt(q[:], l)
		}
	}
	return out
}

// widenForTemp widens a range for a standard error of the temperature, °C, at most to twice its width.
func (st *State) widenForTemp(p target, q []float64, errorC float64) {
	m := q[medianIndex]
	if !(errorC > 0) || m <= 0 {
		return
	}
	cv := (q[p90Index] - q[p10Index]) / 2 / gridZ[p90Index] / m
	sensitivity := st.learners.tempSensitivity(p, &st.climate, errorC)
	widths{1, 1}.stretch(q, math.Min(math.Sqrt(1+sensitivity*sensitivity/math.Max(cv*cv, 1e-4)), 2))
}

// addRelativeVariance widens a range by a relative variance, or narrows it by a negative one: to between half and three times its
// width.
func addRelativeVariance(q []float64, variance float64) {
	m := q[medianIndex]
	if m <= 0 {
		return
	}
	cv := (q[p90Index] - q[p10Index]) / 2 / gridZ[p90Index] / m
	widths{1, 1}.stretch(q, math.Sqrt(math.Max(.25, math.Min(1+variance/math.Max(cv*cv, 1e-4), 9))))
}

// Indexes of .1 and .9 in grid.
var p10Index, p90Index = slices.Index(grid, .1), slices.Index(grid, .9)

// target is a day to forecast: its series s, that series' index i (−1: cold start), the day t and the origin o on the series'
// axis.
type target struct {
	key     SeriesKey
	s       *series
	i, t, o int
	share   float64
	event   string
	axis    []*series // all series, those of the state first
	like    int       // index of the series that stands in for s while it has few known days, −1: none
}

func (st *State) targetOf(axis []*series, index map[SeriesKey]int, r *Ahead) target {
	i := index[st.keyOf(r.SeriesKey)]
	p := target{key: r.SeriesKey, s: axis[i], i: i, share: r.share(), event: r.Event, axis: axis, like: st.likeOf(index, r)}
	p.t = p.s.first.DaysUntil(r.Date)
	p.o = min(p.s.last, p.t-1)
	if p.i >= len(st.tails) {
		p.i = -1
	}
	return p
}

func (p *target) tempC() float64 { return p.s.weather[wTemp][p.t] }

// answer interpolates quantiles on the grid at levels; those of whole counts are rounded.
func (p *target) answer(q *[gridSize]float64, mean float64, levels []float64) Day {
	d := Day{SeriesKey: p.key, Date: p.s.first.AddDays(p.t), Mean: mean, Quantiles: make([]float64, len(levels))}
	for k, l := range levels {
		d.Quantiles[k] = quantileAt(q[:], l)
		if p.s.integer {
			d.Quantiles[k] = math.Round(d.Quantiles[k])
		}
	}
	return d
}

// axis lays out the newest days and the days of rows on one time axis for every series, and returns the index of each series; the
// known ones come first.
func (st *State) axis(rows []Ahead) (axis []*series, index map[SeriesKey]int) {
	from := st.last + 1 - len(st.tails[0].Y)
	first := st.first.AddDays(from)
	n := st.last + 1 - from
	for i := range rows {
		n = max(n, first.DaysUntil(rows[i].Date)+1)
	}
	index = map[SeriesKey]int{}
	add := func(key SeriesKey) *series {
		s := newSeries(key, first, n)
		s.since = from
		index[key] = len(axis)
		axis = append(axis, s)
		return s
	}
	for _, t := range st.tails {
		s := add(t.Key)
		copy(s.y, t.Y)
		copy(s.holiday, t.Holiday)
		s.integer = t.Whole
		for i, y := range t.Y {
			if !math.IsNaN(y) {
				s.last = i
			}
		}
		s.cumulate(t.Sum, t.Count)
	}
	for k := range rows {
		r := &rows[k]
		key := st.keyOf(r.SeriesKey)
		i, ok := index[key]
		if !ok {
			i = len(axis)
			add(key)
		}
		at := first.DaysUntil(r.Date)
		axis[i].set(at, r)
		_, axis[i].apart[at] = st.holidayOf(axis[i].holidayKey[at], i)
	}
	known, added := axis[:len(st.tails)], axis[len(st.tails):]
	for _, s := range added {
		s.borrow(known)
	}
	st.climate.fillGaps(axis)
	return axis, index
}

// Dispersion added for lack of data (variance = mean + spread·mean²).
const (
	coldStartSpread     = 0.6 // of a series without history
	fewDaysSpread       = 0.4 // divided by the number of known days
	unseenWeekdaySpread = 0.3 // of a weekday without a known day
	extrapolationWidth  = 0.1 // relative widening per °C above the hottest known day
)

// predict returns the quantiles on the grid and the mean of a day.
func (st *State) predict(p target) (q [gridSize]float64, mean float64) {
	q, mean = st.predictOwn(p)
	n := 0.0
	if p.i >= 0 {
		n = p.s.count[len(p.s.y)]
	}
	if n < youngDays {
		young, m := st.predictYoung(p, n, &q, mean)
		q, mean = *young, m
	}
	return q, st.applyEffects(p, q[:], mean)
}

// predictOwn returns the quantiles and the mean of a day from its own series, without the effects of events and holidays: those of the
// methods, mixed by their weights.
func (st *State) predictOwn(p target) (q [gridSize]float64, mean float64) {
	s, i := p.s, p.i
	v, ok := st.learners.predict(s, i, p.t, p.o, &st.climate)
	if !ok {
		return q, 0
	}
	spread := [2]float64{coldStartSpread, coldStartSpread}
	if i >= 0 {
		spread = st.calibration.Spread[i]
		if n := s.count[len(s.y)]; n < 56 {
			spread[0], spread[1] = spread[0]+fewDaysSpread/n, spread[1]+fewDaysSpread/n
		}
		if st.tails[i].Seen[s.weekday[p.t]] == 0 {
			spread[0], spread[1] = spread[0]+unseenWeekdaySpread, spread[1]+unseenWeekdaySpread
		}
	}
	var methodQ [methodCount][gridSize]float64
	v.quantiles(spread, &methodQ)
	mixQuantiles(&methodQ, &st.calibration.Weights, q[:])
	w, stretch := st.calibration.Plain, 1.0
	if x := p.tempC(); st.climate.Use[wTemp] && x > st.climate.Hot {
		w = st.calibration.Hot
		stretch += math.Min(math.Max(x-st.climate.Hotter, 0), 10) * extrapolationWidth
	}
	w.stretch(q[:], stretch)
	for l := 1; l < len(q); l++ {
		q[l] = math.Max(q[l], q[l-1])
	}
	means := [methodCount]float64{v.Regression, v.Boosting, v.Boosting, v.Boosting}
	for k, f := range [2][]float32{v.Forest, v.Led} {
		if f != nil {
			means[byForest+k] = gridMean(methodQ[byForest+k][:])
		}
	}
	return q, dot(means[:], st.calibration.Weights[:])
}
