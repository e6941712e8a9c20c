package forecast

import (
	"context"
	"encoding/binary"
	"hash/fnv"
	"math"
	"slices"

	"hotday/models"
)

// State is a fitted forecast of a site: enough to forecast any day ahead without the history, and to update it nightly at a
// fraction of the cost of a fit. It holds the learners, the newest days of each series and the backtests of the past weeks.
type State struct {
	first       models.Date // first day of the first fit, from which days are counted
	last        int         // newest known day, −1 if there is none
	climate     climate
	size        sizes
	learners    *learners
	grown       int   // day on which the boosting was fitted
	grownForest []int // day on which each series' forests were grown
	backtests   []backtest
	calibration calibration
	tails       []tail // by series
	notes       []Note
	effects     map[string]effect // of events, by key
	labelled    bool              // read from version 4: the keys of tails are labels, in Drink
	holidayOwn  []float64         // by series: the log ratio of its effect of holidays to the site's
	holidays    int               // number of known days that were holidays
	digests     []uint64          // of the data of each day, from first on
	together    Together
	shifts      []shift // lasting changes of level, in order of their days
}

// tail is the newest days of a series, as far as lags reach back, and the totals of the days before them.
type tail struct {
	Key        SeriesKey
	Name       string // in states of version 4 instead of Key: its label
	Y          []float64
	Holiday    []float64
	Sum, Count float64
	Whole      bool
	Capped     int         // number of days that were capped as outliers
	CappedLast models.Date // the last of them
	Odd        string      // in states written before Capped: the same in English
	Seen, Warm [7]int      // number of known days by weekday from Monday, and of hot ones
}

// tailDays is how far back lags reach.
const tailDays = 2*maxReachDays + 7

// sizes is the computing effort: the number of backtest fits; trees per forest and boosting rows in them; the same in the final
// fit; and 1 in forestEvery series has forests in a backtest.
type sizes struct {
	blocks, backtestTrees, trees, backtestRows, rows, forestEvery int
}

// sizesFor bounds the effort of a site: many series share information and need fewer trees and backtests each. On the open data forests of
// 40 trees scored as well as of 200 (yaz 0.0980 and 0.0983), of 8 trees 0.0985; storedTreeDays keeps the state of any site small.
func sizesFor(series, days int) sizes {
	n := series * days
	trees := max(4, min(40, storedTreeDays/max(1, n)))
	switch {
	case n < 8_000 && series <= 24:
		return sizes{blocks: 6, backtestTrees: trees, trees: trees, backtestRows: 8000, rows: 8000, forestEvery: 1}
	case n < 20_000:
		return sizes{blocks: 4, backtestTrees: min(20, trees), trees: trees, backtestRows: 8000, rows: 12000, forestEvery: 1}
	}
	return sizes{blocks: 3, backtestTrees: trees, trees: trees, backtestRows: 6000, rows: 12000, forestEvery: 3}
}

// storedTreeDays is the number of trees of a site's forests of each kind times the days of history in each: 160 trees of two years.
const storedTreeDays = 160 * 730

// Days after which nightly updates refit the trees.
const (
	regrowBoosting = 7
	regrowForest   = 28
)

// Fit learns from a whole history, which must be valid; the order of its rows does not matter. ctx only cancels.
func Fit(ctx context.Context, past []Past) (*State, error) { return fit(ctx, past, nil, "") }

// fit is Fit with the settled shifts of an earlier state, whose days count from first.
func fit(ctx context.Context, past []Past, shifts []shift, first models.Date) (*State, error) {
	st, all := newState(past)
	if len(all) == 0 {
		return st, nil
	}
	for _, x := range settledShifts(shifts, first.DaysUntil(st.first)+st.last) {
		x.Day -= first.DaysUntil(st.first)
		st.shifts = append(st.shifts, x)
	}
	applyShifts(all, st.shifts)
	st.climate = learnClimate(all, st.last)
	prepare := func() {
		for _, s := range all {
			s.prepareRows(st.climate.Use)
		}
	}
	prepare()
	if st.last > minHistory+youngShift {
		st.findShiftOf(all, st.last, prepare, nil)
	}
	st.size = sizesFor(len(all), st.last+1)
	trials, before, err := rollingBacktests(ctx, all, st.last, &st.climate, st.size)
	if err != nil {
		return nil, err
	}
	st.backtests = trials
	st.learners = fitLearners(all, st.last, st.climate.Use, effort{trees: st.size.trees, rows: st.size.rows, boosting: true, grow: func(int) bool { return true }}, before)
	st.grown, st.grownForest = st.last, slices.Repeat([]int{st.last}, len(all))
	st.finish(all, st.last)
	return st, ctx.Err()
}

// newState lays out the history. Series without a known day are left out: they are forecast by cold start.
func newState(past []Past) (*State, []*series) {
	st := &State{last: -1, notes: []Note{}}
	all := slices.DeleteFunc(buildSeries(past), func(s *series) bool { return s.last < 0 })
	for _, s := range all {
		st.first, st.last = s.first, max(st.last, s.last)
	}
	st.digests = dayDigests(all, st.last)
	st.effects = map[string]effect{}
	for key := range cleanSeries(all) {
		st.effects[key] = effect{Usual: true}
	}
	for t := range st.last + 1 {
		if slices.ContainsFunc(all, func(s *series) bool { return s.holiday[t] > 0 && !(math.IsNaN(s.y[t]) && math.IsNaN(s.eventDemand[t])) }) {
			st.holidays++
		}
	}
	for _, s := range all {
		if n := s.cappedNote(); n.Days > 0 {
			n.Series = s.key.label()
			st.notes = append(st.notes, n)
		}
		if days := st.last - s.last; days > 28 {
			st.notes = append(st.notes, Note{Code: Stale, Series: s.key.label(), Days: days})
		}
	}
	return st, all
}

// dayDigests hashes the data of each day up to last, over all series with known demand on it.
func dayDigests(all []*series, last int) []uint64 {
	out := make([]uint64, last+1)
	var b [8]byte
	for k, s := range all {
		name := fnv.New64a()
		name.Write([]byte(s.key.label()))
		if k > 0 && all[k-1].key.label() == s.key.label() { // equal days of the two must not cancel out
			name.Write([]byte(s.key.DayPart))
		}
		for i, y := range s.y[:last+1] {
			if math.IsNaN(y) {
				continue
			}
			h := fnv.New64a()
			for _, x := range [...]float64{y, s.share[i], s.holiday[i], s.weather[wTemp][i], s.weather[wRain][i], s.weather[wHum][i]} {
				binary.LittleEndian.PutUint64(b[:], math.Float64bits(x))
				h.Write(b[:])
			}
			h.Write([]byte(s.event[i]))
			if s.holidayKey[i] != unnamedHoliday {
				h.Write([]byte(s.holidayKey[i]))
			}
			out[i] ^= splitmix64(h.Sum64() ^ name.Sum64()) // independent of the order of the series
		}
	}
	return out
}

// cappedNote is the note on the days that were capped as outliers; Days is 0 if there are none.
func (s *series) cappedNote() Note {
	n := Note{Code: Capped, Days: len(s.capped)}
	if n.Days > 0 {
		n.Date = s.first.AddDays(s.capped[n.Days-1])
	}
	return n
}

// finish calibrates on the backtests, estimates the effects of events and keeps the newest days up to last on the axis of all.
func (st *State) finish(all []*series, last int) {
	st.calibration = calibrate(st.backtests, len(all), st.learners.Regression.Spread, st.climate.Hot)
	st.together = learnTogether(st.backtests, st.calibration.Spread)
	if len(st.backtests) < minBacktests {
		st.notes = append(st.notes, Note{Code: ShortHistory})
	}
	if !st.climate.Use[wTemp] {
		st.notes = append(st.notes, Note{Code: NoTemps})
	}
	st.learnEffects(all)
	st.tails = make([]tail, len(all))
	from := max(0, last+1-tailDays)
	for i, s := range all {
		capped := s.cappedNote()
		st.tails[i] = tail{Key: s.key, Y: slices.Clone(s.y[from : last+1]), Holiday: slices.Clone(s.holiday[from : last+1]),
			Sum: s.sum[from], Count: s.count[from], Whole: s.integer, Capped: capped.Days, CappedLast: capped.Date}
		for t, y := range s.y {
			if math.IsNaN(y) {
				continue
			}
			st.tails[i].Seen[s.weekday[t]]++
			if st.climate.Use[wTemp] && s.weather[wTemp][t] > st.climate.Hot {
				st.tails[i].Warm[s.weekday[t]]++
			}
		}
	}
}
