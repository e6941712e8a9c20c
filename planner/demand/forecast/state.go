package forecast

import (
	"bytes"
	"compress/flate"
	"context"
	"encoding/binary"
	"encoding/gob"
	"fmt"
	"hash/fnv"
	"math"
	"slices"

	"hotday/models"
)

// State is what a site's past has taught: enough to forecast any coming day without the past, and to learn from another night at
// a fraction of the first cost. It holds the learners, the newest days of each series, and the trials of the past weeks.
type State struct {
	first       models.Date // the first day at the first fit; days are counted from it
	last        int         // the newest day
	climate     climate
	size        sizes
	fitted      *fitted
	grown       int   // the day on which the boosted trees were grown
	grownForest []int // and each series' forests
	trials      []trial
	calibration calibration
	tails       []tail // by series
	notes       []string
	effects     map[string]effect      // of events, by their key
	labelled    bool                   // read from version 4: the keys of the tails are labels, in Drink
	holidays    int                    // days known that were holidays
	days        []uint64               // what each day said, from the first on
	temp        func(c float64) string // how its words write temperatures, not kept with it; nil: in °C
}

// tail is the newest days of a series, as lags need them, with what went before in sum.
type tail struct {
	Key        SeriesKey
	Name       string // in version 4 instead of Key: its label
	Y          []float64
	Holiday    []float64
	Sum, Count float64
	Whole      bool
	Odd        string // what a manager should look at
	Seen, Warm [7]int // how many of each weekday, from Monday, are known, and how many of them were hot
}

// tailDays is how far back lags reach.
const tailDays = 2*longest + 7

// sizes is the size of the work: fits of the past, trees of a forest there and at the end, days that the boosting sees there and
// at the end, and which share of the forests is grown for trials.
type sizes struct {
	blocks, trialTrees, trees, trialRows, rows, oneIn int
}

// sized keeps the work of a site within bounds: many series learn from one another and need fewer trees and trials each.
func sized(series, days int) sizes {
	switch n := series * days; {
	case n < 8_000 && series <= 24:
		return sizes{blocks: 6, trialTrees: 50, trees: 200, trialRows: 8000, rows: 8000, oneIn: 1}
	case n < 20_000:
		return sizes{blocks: 4, trialTrees: 20, trees: 60, trialRows: 8000, rows: 12000, oneIn: 1}
	}
	return sizes{blocks: 3, trialTrees: 12, trees: 24, trialRows: 6000, rows: 12000, oneIn: 3}
}

// regrow is the number of days that trees are kept in nightly updates.
const (
	regrowBoosting = 7
	regrowForest   = 28
)

// Fit learns from a past of which nothing is known yet. The past was validated; the order of its rows does not matter. ctx only
// aborts.
func Fit(ctx context.Context, past []Past) (*State, error) {
	st, all := begin(past)
	if len(all) == 0 {
		return st, nil
	}
	st.climate = learnClimate(all, st.last)
	for _, s := range all {
		s.prepare(st.climate.Use)
	}
	st.size = sized(len(all), st.last+1)
	trials, before, err := rollingTrials(ctx, all, st.last, &st.climate, st.size)
	if err != nil {
		return nil, err
	}
	st.trials = trials
	st.fitted = fit(all, st.last, st.climate.Use, work{trees: st.size.trees, rows: st.size.rows, boosting: true, grow: func(int) bool { return true }}, before)
	st.grown, st.grownForest = st.last, slices.Repeat([]int{st.last}, len(all))
	st.finish(all, st.last)
	return st, ctx.Err()
}

// begin lays out the past; series without a single known day are left out: they are forecast as new ones.
func begin(past []Past) (*State, []*series) {
	st := &State{last: -1, notes: []string{}}
	all := slices.DeleteFunc(build(past), func(s *series) bool { return s.last < 0 })
	for _, s := range all {
		st.first, st.last = s.first, max(st.last, s.last)
	}
	st.days = saidBy(all, st.last)
	st.effects = map[string]effect{}
	for key := range settle(all) {
		st.effects[key] = effect{Usual: true}
	}
	for t := range st.last + 1 {
		if slices.ContainsFunc(all, func(s *series) bool { return s.holiday[t] > 0 && !math.IsNaN(s.y[t]) }) {
			st.holidays++
		}
	}
	for _, s := range all {
		if odd := s.odd(); odd != "" {
			st.note("%s: %s", s.key.label(), odd)
		}
		if st.last-s.last > 28 {
			st.note("%s: nothing is known of the last %d days; the forecast goes on from before them", s.key.label(), st.last-s.last)
		}
	}
	return st, all
}

// saidBy is a digest of what each day up to last said of all series that knew it.
func saidBy(all []*series, last int) []uint64 {
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
			out[i] ^= mixed(h.Sum64() ^ name.Sum64()) // in whatever order series come
		}
	}
	return out
}

// odd says which days were so far out that they were taken as less.
func (s *series) odd() string {
	switch n := len(s.damped); n {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf("1 day (%s) lies many times beyond all others and is taken as less; look whether the count is right", s.first.AddDays(s.damped[0]))
	default:
		return fmt.Sprintf("%d days (the last %s) lie many times beyond all others and are taken as less; look whether the counts are right", n, s.first.AddDays(s.damped[n-1]))
	}
}

func days(n int, one, more string) string {
	if n == 1 {
		return "1 day " + one
	}
	return fmt.Sprintf("%d days %s", n, more)
}

func (st *State) note(format string, args ...any) {
	st.notes = append(st.notes, fmt.Sprintf(format, args...))
}

// finish learns from the trials and keeps the newest days up to last, counted as the series do.
func (st *State) finish(all []*series, last int) {
	st.calibration = calibrate(st.trials, len(all), st.fitted.Regression.Spread, st.climate.Hot)
	if len(st.trials) < fewTrials {
		st.note("the past is too short to try the forecast on: the ranges are a guess and will narrow with the weeks")
	}
	if !st.climate.Use[wTemp] {
		st.note("there is no temperature for at least half of the days: the forecast does without")
	}
	st.learnEffects(all)
	st.tails = make([]tail, len(all))
	from := max(0, last+1-tailDays)
	for i, s := range all {
		st.tails[i] = tail{Key: s.key, Y: slices.Clone(s.y[from : last+1]), Holiday: slices.Clone(s.holiday[from : last+1]),
			Sum: s.sum[from], Count: s.count[from], Whole: s.whole, Odd: s.odd()}
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

// Update learns from the days that came since: yesterday's learners are first tried on them, then the regression goes on from
// where it was and a share of the trees is grown anew. The past is the whole past again, corrected where counts were. Where
// nothing came it returns the state itself; where too much changed it fits from nothing.
func (st *State) Update(ctx context.Context, past []Past) (*State, error) {
	next, all := begin(past)
	if st.fitted == nil || len(all) == 0 || st.last < leastPast { // young sites: quick to fit, and trials of their first days would tell of ignorance
		return Fit(ctx, past)
	}
	since, last := st.first.DaysUntil(next.first), next.last // the oldest days may have gone
	next.first, next.last = st.first, last+since
	if since < 0 || since > st.last || next.last < st.last || next.last > st.last+block {
		return Fit(ctx, past)
	}
	all, known := st.arrange(all)
	if known < len(st.tails) {
		return Fit(ctx, past)
	}
	use := learnClimate(all, last)
	if use.Use != st.climate.Use {
		return Fit(ctx, past)
	}
	changed := st.changed(next, since)
	settled := changed[:max(0, len(changed)-LateDays)]
	switch n := count(settled); {
	case next.last == st.last && count(changed) == 0:
		return st, nil
	case n > 0 && n*tooMuch > len(settled):
		return Fit(ctx, past)
	case n > 0: // trees know the days as they were
		st = st.without(changed)
	}
	next.days = append(slices.Clone(st.days[:since]), next.days...)
	next.climate, next.size = use, st.size
	for _, s := range all {
		s.since = since
		s.prepare(use.Use)
	}
	oldest := next.last - st.size.blocks*block
	for _, t := range st.trials {
		if t.Day > oldest {
			next.trials = append(next.trials, t)
		}
	}
	for i := range known {
		for t := max(st.last+1-since, 1); t <= last; t++ {
			if one, ok := st.fitted.try(all[i], i, t, t-1, &st.climate); ok {
				next.trials = append(next.trials, one)
			}
		}
	}
	next.grown, next.grownForest = st.grown, slices.Clone(st.grownForest)
	for range len(all) - known {
		next.grownForest = append(next.grownForest, -regrowForest)
	}
	more := len(all) > known
	if more || next.last-next.grown >= regrowBoosting {
		next.grown, more = next.last, true
	}
	w := work{trees: st.size.trees, rows: st.size.rows, boosting: more, seed: uint64(next.last), grow: func(i int) bool {
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
	next.fitted = fit(all, last, use.Use, w, st.fitted)
	next.finish(all, last)
	return next, nil
}

// LateDays is the number of newest days whose counts may change from night to night without the trees being grown again before
// they are due. An older day that changes has them grown again at once.
const LateDays = 14

// tooMuch: when 1 in tooMuch of the older days has changed, everything is fitted from scratch.
const tooMuch = 10

// changed says of each day from since on that the state knows whether next says otherwise of it.
func (st *State) changed(next *State, since int) []bool {
	out := make([]bool, max(0, len(st.days)-since))
	for i := range out {
		out[i] = st.days[since+i] != next.days[i]
	}
	return out
}

func count(xs []bool) (n int) {
	for _, x := range xs {
		n += int(indicator(x))
	}
	return n
}

// without is the state without the trials of days that changed, changed from the oldest of those kept on, all of its trees to be
// grown again.
func (st *State) without(changed []bool) *State {
	out := *st
	first := len(st.days) - len(changed)
	out.trials = slices.DeleteFunc(slices.Clone(st.trials), func(t trial) bool {
		return t.Day >= first && t.Day-first < len(changed) && changed[t.Day-first]
	})
	out.grown, out.grownForest = -regrowBoosting, slices.Repeat([]int{-regrowForest}, len(st.grownForest))
	return &out
}

// arrange puts the series in the order of the state, new ones behind, and says how many the state knows.
func (st *State) arrange(all []*series) ([]*series, int) {
	place := make(map[SeriesKey]int, len(st.tails))
	for i := range st.tails {
		place[st.tails[i].Key] = i
	}
	known := make([]*series, len(st.tails))
	var fresh []*series
	n := 0
	for _, s := range all {
		i, ok := place[st.keyOf(s.key)]
		switch {
		case !ok:
			fresh = append(fresh, s)
		case known[i] != nil: // two series that version 4 could not tell apart
			return all, 0
		default:
			known[i] = s
			n++
		}
	}
	return append(slices.DeleteFunc(known, func(s *series) bool { return s == nil }), fresh...), n
}

// Last is the newest day that the state knows; "" where it knows none.
func (st *State) Last() models.Date {
	if st.last < 0 {
		return ""
	}
	return st.first.AddDays(st.last)
}

// Weights says how much each of MethodNames counts.
func (st *State) Weights() [methodCount]float64 { return st.calibration.Weights }

// stored is the State as it is written: everything a learner needs, in names that stay.
type stored struct {
	Version     int
	First       models.Date
	Last        int
	Climate     climate
	Sizes       [6]int
	Fitted      *fitted
	Grown       int
	GrownForest []int
	Trials      []trial
	Calibration calibration
	Tails       []tail
	Notes       []string
	Effects     map[string]effect
	Holidays    int
	Days        []uint64
	Labelled    bool
}

// stateVersion is raised when a state can no longer be read by earlier versions, oldestVersion when this one can no longer read
// earlier states; then the next night fits from scratch.
const (
	stateVersion  = 5
	oldestVersion = 4
)

// keyOf is the key under which the state holds a series.
func (st *State) keyOf(k SeriesKey) SeriesKey {
	if st.labelled {
		return SeriesKey{Drink: k.label()}
	}
	return k
}

// MarshalBinary writes the state, packed.
func (st *State) MarshalBinary() ([]byte, error) {
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		return nil, fmt.Errorf("write the forecast's state: %w", err)
	}
	s := st.size
	err = gob.NewEncoder(z).Encode(stored{stateVersion, st.first, st.last, st.climate, [6]int{s.blocks, s.trialTrees, s.trees, s.trialRows, s.rows, s.oneIn},
		st.fitted, st.grown, st.grownForest, st.trials, st.calibration, st.tails, st.notes, st.effects, st.holidays, st.days, st.labelled})
	if err == nil {
		err = z.Close()
	}
	if err != nil {
		return nil, fmt.Errorf("write the forecast's state: %w", err)
	}
	return b.Bytes(), nil
}

// UnmarshalBinary reads what MarshalBinary wrote. It returns an error for a version that it cannot read: fit from scratch then.
func (st *State) UnmarshalBinary(b []byte) error {
	var s stored
	if err := gob.NewDecoder(flate.NewReader(bytes.NewReader(b))).Decode(&s); err != nil {
		return fmt.Errorf("read the forecast's state: %w", err)
	}
	if s.Version < oldestVersion || s.Version > stateVersion {
		return fmt.Errorf("read the forecast's state: version %d is not %d to %d", s.Version, oldestVersion, stateVersion)
	}
	if s.Version == 4 {
		s.Labelled = true
		for i := range s.Tails {
			s.Tails[i].Key, s.Tails[i].Name = SeriesKey{Drink: s.Tails[i].Name}, ""
		}
	}
	z := s.Sizes
	*st = State{first: s.First, last: s.Last, climate: s.Climate, size: sizes{z[0], z[1], z[2], z[3], z[4], z[5]}, fitted: s.Fitted, grown: s.Grown,
		grownForest: s.GrownForest, trials: s.Trials, calibration: s.Calibration, tails: s.Tails, notes: s.Notes, effects: s.Effects, holidays: s.Holidays, days: s.Days, labelled: s.Labelled}
	return nil
}
