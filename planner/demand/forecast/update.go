package forecast

import (
	"context"
	"fmt"
	"slices"
)

// Update learns from the days added since. It backtests the current learners on them, then refits the regression from a warm
// start and part of the trees. past is the whole history again, including late corrections. Without new data it returns st
// itself; after too many changes it fits from scratch.
func (st *State) Update(ctx context.Context, past []Past) (*State, error) {
	next, all := newState(past)
	fromScratch := func() (*State, error) { return fit(ctx, past, st.shifts, st.first) }
	if st.learners == nil || len(all) == 0 || st.last < minHistory { // young sites are quick to fit, and backtests from their first days are not representative
		return Fit(ctx, past)
	}
	since, last := st.first.DaysUntil(next.first), next.last // the oldest days may have been dropped
	next.first, next.last = st.first, last+since
	if since < 0 || since > st.last || next.last < st.last || next.last > st.last+blockDays {
		return fromScratch()
	}
	all, known := st.matchSeries(all)
	if known < len(st.tails) {
		return fromScratch()
	}
	for _, s := range all {
		s.since = since
	}
	next.shifts = settledShifts(st.shifts, next.last)
	applyShifts(all, next.shifts)
	weather := learnClimate(all, last)
	if weather.Use != st.climate.Use {
		return fromScratch()
	}
	changed := st.changedDays(next, since)
	settled := changed[:max(0, len(changed)-LateDays)]
	switch n := countTrue(settled); {
	case next.last == st.last && countTrue(changed) == 0:
		return st, nil
	case n > 0 && n*refitOneIn > len(settled):
		return fromScratch()
	case n > 0: // the trees were fitted to the old data
		st = st.withoutBacktestsOf(changed)
	}
	next.digests = append(slices.Clone(st.digests[:since]), next.digests...)
	next.climate, next.size = weather, st.size
	next.size.trees = sizesFor(len(all), last+1).trees // those grown from now on
	prepare := func() {
		for _, s := range all {
			s.prepareRows(weather.Use)
		}
	}
	prepare()
	if last-youngShift > minHistory {
		next.findShiftOf(all, last, prepare, st.learners.Regression)
	}
	oldest := next.last - st.size.blocks*blockDays
	for _, t := range st.backtests {
		if t.Day > oldest {
			next.backtests = append(next.backtests, t)
		}
	}
	for i := range known {
		for t := max(st.last+1-since, 1); t <= last; t++ {
			if bt, ok := st.learners.backtestDay(all[i], i, t, t-1, &st.climate); ok {
				next.backtests = append(next.backtests, bt)
			}
		}
	}
	next.grown, next.grownForest = st.grown, slices.Clone(st.grownForest)
	for range len(all) - known {
		next.grownForest = append(next.grownForest, -regrowForest)
	}
	boost := len(all) > known
	if boost || next.last-next.grown >= regrowBoosting {
		next.grown, boost = next.last, true
	}
	e := effort{trees: next.size.trees, rows: next.size.rows, boosting: boost, seed: uint64(next.last), grow: func(i int) bool {
		for d := st.last + 1; d <= next.last; d++ {
			if (d+i)%regrowForest == 0 {
				next.grownForest[i] = next.last
				return true
			}
		}
		return next.last-next.grownForest[i] >= regrowForest
	}}
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("forecast: %w", err)
	}
	next.learners = fitLearners(all, last, weather.Use, e, st.learners)
	next.finish(all, last)
	return next, nil
}

// LateDays is the number of newest days whose counts are expected to change from night to night. Such changes leave the trees
// until they are next due; a change of an older day refits all trees at once.
const LateDays = 14

// refitOneIn is the limit of corrections: if more than 1 in refitOneIn of the older days changed, Update fits from scratch.
const refitOneIn = 10

// changedDays reports for each day from since on whether next has other data than st.
func (st *State) changedDays(next *State, since int) []bool {
	out := make([]bool, max(0, len(st.digests)-since))
	for i := range out {
		out[i] = st.digests[since+i] != next.digests[i]
	}
	return out
}

func countTrue(xs []bool) (n int) {
	for _, x := range xs {
		n += int(indicator(x))
	}
	return n
}

// withoutBacktestsOf drops the backtests of changed days and marks all trees for refitting. changed ends with the last day of st.
func (st *State) withoutBacktestsOf(changed []bool) *State {
	out := *st
	first := len(st.digests) - len(changed)
	out.backtests = slices.DeleteFunc(slices.Clone(st.backtests), func(t backtest) bool {
		return t.Day >= first && t.Day-first < len(changed) && changed[t.Day-first]
	})
	out.grown, out.grownForest = -regrowBoosting, slices.Repeat([]int{-regrowForest}, len(st.grownForest))
	return &out
}

// matchSeries sorts the series into the order of the state, new ones last, and returns how many of them the state knows.
func (st *State) matchSeries(all []*series) ([]*series, int) {
	index := make(map[SeriesKey]int, len(st.tails))
	for i := range st.tails {
		index[st.tails[i].Key] = i
	}
	known := make([]*series, len(st.tails))
	var added []*series
	n := 0
	for _, s := range all {
		i, ok := index[st.keyOf(s.key)]
		switch {
		case !ok:
			added = append(added, s)
		case known[i] != nil: // two series that version 4 could not tell apart
			return all, 0
		default:
			known[i] = s
			n++
		}
	}
	return append(slices.DeleteFunc(known, func(s *series) bool { return s == nil }), added...), n
}
