package forecast

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Live is what a forecast of a coming day says beside its numbers.
type Live struct {
	Day
	Basis string // "53 Saturdays, 6 of them above 27 °C; +38 % for 31 °C"
}

// Ahead forecasts the days of rows, which were validated, at the levels, in their order.
func (st *State) Ahead(rows []Ahead, levels []float64) Answer {
	a := Answer{Rows: make([]Day, 0, len(rows)), Notes: slices.Clone(st.notes)}
	if st.last < 0 {
		for i := range rows {
			a.Rows = append(a.Rows, Day{SeriesKey: rows[i].SeriesKey, Date: rows[i].Date, Quantiles: make([]float64, len(levels))})
		}
		a.Notes = append(a.Notes, "there is no open day in the past: nothing can be said of demand")
		return a
	}
	axis, index := st.lay(rows)
	guessed, hotter, missing := map[SeriesKey]bool{}, 0.0, 0
	for k := range rows {
		r := &rows[k]
		if !r.Open {
			a.Rows = append(a.Rows, Day{SeriesKey: r.SeriesKey, Date: r.Date, Quantiles: make([]float64, len(levels))})
			continue
		}
		p := st.place(axis, index, r)
		q, mean := st.rangeOf(p)
		if r.TempC == nil && st.climate.Use[wTemp] && p.i >= 0 {
			st.widen(p, q[:], st.climate.Sway)
			missing++
		}
		a.Rows = append(a.Rows, p.read(&q, mean, levels))
		if p.i < 0 {
			guessed[p.s.key] = true
		}
		if x := p.temp(); st.climate.Use[wTemp] && x > st.climate.Hotter+0.5 {
			hotter = max(hotter, x)
		}
		for _, words := range st.besides(p) {
			if r.OpenShare == nil && !slices.Contains(a.Notes, words) { // who says a share knows of it
				a.Notes = append(a.Notes, words)
			}
		}
	}
	for _, s := range axis {
		if guessed[s.key] {
			a.Notes = append(a.Notes, fmt.Sprintf("%s: no day of it is known; a guess from the site's other series, very wide, until its own counts come", s.key.label()))
		}
	}
	if missing > 0 {
		a.Notes = append(a.Notes, fmt.Sprintf("%s no temperature ahead: taken as usual for the time of the year, and the range widened", days(missing, "has", "have")))
	}
	if hotter > 0 {
		a.Notes = append(a.Notes, fmt.Sprintf("up to %.0f °C: hotter than any day known (%.0f °C); the regression is carried on and the range widened", hotter, st.climate.Hotter))
	}
	return a
}

// Knows reports whether the state has learnt from days of a series.
func (st *State) Knows(series SeriesKey) bool {
	series = st.keyOf(series)
	return slices.ContainsFunc(st.tails, func(t tail) bool { return t.Key == series })
}

// Live forecasts open days of series that the state knows, as Ahead does, each with its basis in words; closed days only say what
// holidays there are, and have an empty answer. tempErrorC is the standard
// error of each row's temperature, °C: what the weather forecast itself does not know widens the range.
func (st *State) Live(rows []Ahead, tempErrorC, levels []float64) []Live {
	if st.last < 0 {
		return nil
	}
	axis, index := st.lay(rows)
	out := make([]Live, len(rows))
	for k := range rows {
		if !rows[k].Open {
			continue
		}
		p := st.place(axis, index, &rows[k])
		q, mean := st.rangeOf(p)
		basis := strings.Join(append([]string{st.basis(p)}, st.besides(p)...), "; ")
		if p.i >= 0 && st.tails[p.i].Odd != "" {
			basis += "; " + st.tails[p.i].Odd
		}
		switch {
		case !st.climate.Use[wTemp]:
		case rows[k].TempC == nil:
			st.widen(p, q[:], st.climate.Sway)
			basis += "; no weather forecast: as usual for the time of the year, a wide guess"
		default:
			st.widen(p, q[:], tempErrorC[k])
		}
		out[k] = Live{Day: p.read(&q, mean, levels), Basis: basis}
	}
	return out
}

// widen stretches a range by what a standard error of the temperature, °C, moves the mean.
func (st *State) widen(p place, q []float64, errorC float64) {
	m := q[middle]
	if !(errorC > 0) || m <= 0 {
		return
	}
	own := (q[highest] - q[lowest]) / 2 / gridScores[highest] / m
	more := st.fitted.sway(p, &st.climate, errorC)
	widths{1, 1}.stretch(q, math.Min(math.Sqrt(1+more*more/math.Max(own*own, 1e-4)), 2))
}

// widenBy adds a relative variance to a range, or takes from it: never more than half its width, nor twice as much again.
func widenBy(q []float64, more float64) {
	m := q[middle]
	if m <= 0 {
		return
	}
	own := (q[highest] - q[lowest]) / 2 / gridScores[highest] / m
	widths{1, 1}.stretch(q, math.Sqrt(math.Max(.25, math.Min(1+more/math.Max(own*own, 1e-4), 9))))
}

// The places of the levels .1 and .9 in grid.
var lowest, highest = slices.Index(grid, .1), slices.Index(grid, .9)

// place is a day to forecast: its series, that series' number (−1: a new one), the day and the last day known.
type place struct {
	key     SeriesKey
	s       *series
	i, t, o int
	share   float64
	event   string
}

func (st *State) place(axis []*series, index map[SeriesKey]int, r *Ahead) place {
	i := index[st.keyOf(r.SeriesKey)]
	p := place{key: r.SeriesKey, s: axis[i], i: i, share: r.share(), event: r.Event}
	p.t = p.s.first.DaysUntil(r.Date)
	p.o = min(p.s.last, p.t-1)
	if p.i >= len(st.tails) {
		p.i = -1
	}
	return p
}

func (p *place) temp() float64 { return p.s.weather[wTemp][p.t] }

// read turns quantiles on the grid into the answer at the levels; whole counts get whole quantiles.
func (p *place) read(q *[len26]float64, mean float64, levels []float64) Day {
	d := Day{SeriesKey: p.key, Date: p.s.first.AddDays(p.t), Mean: mean, Quantiles: make([]float64, len(levels))}
	for k, l := range levels {
		d.Quantiles[k] = readLevel(q[:], l)
		if p.s.whole {
			d.Quantiles[k] = math.Round(d.Quantiles[k])
		}
	}
	return d
}

// lay puts the newest days and the coming ones of every series on one axis, and says where each series is: beyond the known ones
// stand those that are new.
func (st *State) lay(rows []Ahead) (axis []*series, index map[SeriesKey]int) {
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
		s.whole = t.Whole
		for i, y := range t.Y {
			if !math.IsNaN(y) {
				s.last = i
			}
		}
		s.sums(t.Sum, t.Count)
	}
	for k := range rows {
		r := &rows[k]
		key := st.keyOf(r.SeriesKey)
		i, ok := index[key]
		if !ok {
			i = len(axis)
			add(key)
		}
		axis[i].put(first.DaysUntil(r.Date), r)
	}
	known, added := axis[:len(st.tails)], axis[len(st.tails):]
	for _, s := range added {
		s.borrow(known)
	}
	st.climate.close(axis)
	return axis, index
}

// What is added to the spread for what is not known.
const (
	guessedSpread = 0.6 // of a series that borrows from the others
	fewSpread     = 0.4 // divided by the number of its days
	unseenWeekday = 0.3 // of a weekday of which no day is known
	hotterWidth   = 0.1 // wider for each degree beyond the hottest day
)

// rangeOf is the quantiles on the grid of a day, and its mean: that of the methods by their weights.
func (st *State) rangeOf(p place) (q [len26]float64, mean float64) {
	s, i := p.s, p.i
	v, ok := st.fitted.look(s, i, p.t, p.o, &st.climate)
	if !ok {
		return q, 0
	}
	spread := [2]float64{guessedSpread, guessedSpread}
	if i >= 0 {
		spread = st.calibration.Spread[i]
		if n := s.count[len(s.y)]; n < 56 {
			spread[0], spread[1] = spread[0]+fewSpread/n, spread[1]+fewSpread/n
		}
		if st.tails[i].Seen[s.weekday[p.t]] == 0 {
			spread[0], spread[1] = spread[0]+unseenWeekday, spread[1]+unseenWeekday
		}
	}
	var said [methodCount][len26]float64
	v.all(spread, &said)
	mix(&said, &st.calibration.Weights, q[:])
	w, by := st.calibration.Plain, 1.0
	if x := p.temp(); st.climate.Use[wTemp] && x > st.climate.Hot {
		w = st.calibration.Hot
		by += math.Min(math.Max(x-st.climate.Hotter, 0), 10) * hotterWidth
	}
	w.stretch(q[:], by)
	for l := 1; l < len(q); l++ {
		q[l] = math.Max(q[l], q[l-1])
	}
	means := [methodCount]float64{v.Regression, v.Boosting, v.Boosting, v.Boosting}
	for k, f := range [2][]float32{v.Forest, v.Led} {
		if f != nil {
			means[byForest+k] = meanOfGrid(said[byForest+k][:])
		}
	}
	mean = dot(means[:], st.calibration.Weights[:])
	return q, st.moved(p, q[:], mean)
}
