package forecast

import (
	"math"
	"slices"
)

// shift is a lasting change of level: from Day on, counted from the site's first day, demand is exp(Log) times what it was. It is of
// one series, or of all where Site is set. Error is the standard error of Log.
//
// Demand from that day on is divided by the factor before anything is learnt from it, and forecasts are multiplied by it, so that
// the learners see one level throughout and follow a shift at once, where lags need weeks.
type shift struct {
	Site  bool
	Key   SeriesKey
	Day   int
	Log   float64
	Error float64
}

// of reports whether a series has the shift.
func (x *shift) of(key SeriesKey) bool { return x.Site || x.Key == key }

// A shift is found by Bayes' rule: the errors of the days since each candidate day, forecast as of the day before it, either are of
// the size usual at the site (Student's t, scaled to the errors of earlier spans of the same length) or stem from a shift as well.
// Guesses: common practice, no source; tested on the open data, whose scores must not suffer.
const (
	shiftPrior   = 0.25 // probability of a shift within the last youngShift days
	shiftSD      = 0.35 // of its log
	shiftFreedom = 20   // degrees of freedom of the errors: weeks out of the ordinary are more frequent than under a normal
	shiftSure    = 0.25 // least posterior probability at which a shift is followed
	leastShift   = 0.1  // least change of the log worth looking at
	leastHalf    = 0.4  // of the change that each half of the days since must show
	leastErrorSD = 0.02 // of a span's log error, where the history is too short or too regular to tell
	youngShift   = 28   // days for which a shift is estimated again each night; lags have followed by then, and it stays as it is
	toldShift    = 56   // days for which the basis of a forecast mentions it
	errorDays    = 182  // of the history from which the usual errors are taken
)

// shiftSpans are the candidate days, in days before the end of the history.
var shiftSpans = []int{7, 8, 9, 11, 14, 18, 23, youngShift}

// spanError is ratioOf a span forecast at the end of the day before.
func (r *regression) spanError(all []*series, of []int, scale []float64, use [weatherVars]bool, from, to int) (logRatio float64, ok bool) {
	return r.ratioOf(all, of, scale, use, from-1, from, to)
}

// ratioOf is the log of the ratio of demand to forecast over days from ≤ t ≤ to, forecast at the end of day origin by the regression, over
// the series given. Series are weighted by the inverse of their dispersion. ok is false if too little was expected.
func (r *regression) ratioOf(all []*series, of []int, scale []float64, use [weatherVars]bool, origin, from, to int) (logRatio float64, ok bool) {
	actual, expected, days := 0.0, 0.0, 0
	var x [features]float64
	for _, i := range of {
		s := all[i]
		known := 0
		sum, mean := 0.0, 0.0
		for t := from; t <= to; t++ {
			if math.IsNaN(s.y[t]) || !s.fillFeatures(t, origin, use, x[:]) {
				continue
			}
			sum, mean, known = sum+s.y[t], mean+r.mean(i, scale[i], x[:]), known+1
		}
		if known == 0 {
			continue
		}
		days = max(days, known)
		w := 1 / (1 + r.Spread[i]*mean/float64(known))
		actual, expected = actual+w*sum, expected+w*mean
	}
	if 2*days < to-from+1 || expected < 10 {
		return 0, false
	}
	return math.Log((actual + .5) / (expected + .5)), true
}

// lasts reports whether the change is there in both halves of the span: a few days out of the ordinary are not a shift.
func (r *regression) lasts(all []*series, of []int, scale []float64, use [weatherVars]bool, from, to int, e float64) bool {
	half := (to - from + 1) / 2
	for _, first := range []int{from, to - half + 1} {
		part, ok := r.ratioOf(all, of, scale, use, from-1, first, first+half-1)
		if !ok || part*e <= 0 || math.Abs(part) < leastHalf*math.Abs(e) {
			return false
		}
	}
	return true
}

// usualError is the scale of the log errors of spans of a length that end before day end: their median absolute size, as a standard
// deviation. ok is false if there are too few.
func (r *regression) usualError(all []*series, of []int, scale []float64, use [weatherVars]bool, length, end int) (sd float64, ok bool) {
	var sizes []float64
	for from := end - length; from > max(minHistory, end-errorDays); from -= max(3, length/2) {
		if e, ok := r.spanError(all, of, scale, use, from, from+length-1); ok {
			sizes = append(sizes, math.Abs(e))
		}
	}
	if len(sizes) < 4 {
		return 0, false
	}
	slices.Sort(sizes)
	return math.Max(sizes[len(sizes)/2]/0.6745, leastErrorSD), true
}

// findShift looks for a shift within the last youngShift days up to last, on the axis of all, in the series given. ok is false if none is
// likely enough.
func (r *regression) findShift(all []*series, of []int, scale []float64, use [weatherVars]bool, last int) (found shift, ok bool) {
	type candidate struct {
		span          int
		log, sd, odds float64
	}
	var list []candidate
	for _, n := range shiftSpans {
		if last-n < minHistory {
			break
		}
		e, ok := r.spanError(all, of, scale, use, last-n+1, last)
		if ok && r.lasts(all, of, scale, use, last-n+1, last, e) {
			list = append(list, candidate{span: n, log: e})
		}
	}
	if !slices.ContainsFunc(list, func(c candidate) bool { return math.Abs(c.log) >= leastShift }) {
		return shift{}, false
	}
	total, best := 0.0, candidate{}
	for _, c := range list {
		if c.sd, ok = r.usualError(all, of, scale, use, c.span, last-youngShift+1); !ok {
			continue
		}
		z := c.log / c.sd
		usual := studentT(z, shiftFreedom) / c.sd
		v := shiftSD*shiftSD + c.sd*c.sd
		shifted := math.Exp(-c.log*c.log/(2*v)) / math.Sqrt(2*math.Pi*v)
		c.odds = shiftPrior / (1 - shiftPrior) / float64(len(list)) * shifted / usual
		total += c.odds
		if c.odds > best.odds {
			best = c
		}
	}
	sure := total / (1 + total)
	if sure < shiftSure {
		return shift{}, false
	}
	shrink := shiftSD * shiftSD / (shiftSD*shiftSD + best.sd*best.sd)
	return shift{Day: last - best.span + 1, Log: sure * shrink * best.log, Error: best.sd * math.Sqrt(shrink)}, true
}

// studentT is the density of Student's t with n degrees of freedom.
func studentT(x, n float64) float64 {
	a, _ := math.Lgamma((n + 1) / 2)
	b, _ := math.Lgamma(n / 2)
	return math.Exp(a-b-(n+1)/2*math.Log1p(x*x/n)) / math.Sqrt(n*math.Pi)
}

// shiftOfSite is findShift for the whole site, with the scales of its series.
func (r *regression) shiftOfSite(all []*series, scale []float64, last int) (found shift, ok bool) {
	of := make([]int, len(scale))
	for i := range of {
		of[i] = i
	}
	found, ok = r.findShift(all, of, scale, r.Use, last)
	found.Site, found.Day = true, found.Day+all[0].since
	return found, ok
}

// shiftRounds is how often a fit looks for a shift: a regression that was fitted to the days since has partly absorbed it, and less so
// once they are divided by the factor found first.
const shiftRounds = 3

// findShiftOf looks for a young shift in the days of all series up to last, and applies it. prepare computes the training rows; warm,
// an earlier fit, may be nil.
func (st *State) findShiftOf(all []*series, last int, prepare func(), warm *regression) {
	settled := st.shifts
	for range shiftRounds {
		samples := samplesOf(all, last, st.climate.Use)
		scale := make([]float64, len(all))
		for i, m := range samples {
			scale[i] = m.scale
		}
		warm = fitRegression(samples, st.climate.Use, warm)
		if len(st.shifts) > len(settled) {
			undoShift(all, st.shifts[len(settled)])
		}
		found, ok := warm.shiftOfSite(all, scale, last)
		if !ok {
			if len(st.shifts) > len(settled) {
				st.shifts = settled
				prepare()
			}
			return
		}
		st.shifts = append(slices.Clone(settled), found)
		applyShifts(all, []shift{found})
		prepare()
	}
}

func undoShift(all []*series, x shift) {
	x.Log = -x.Log
	applyShifts(all, []shift{x})
}

// settledShifts are those of the shifts that are no longer young on day last.
func settledShifts(shifts []shift, last int) []shift {
	return slices.DeleteFunc(slices.Clone(shifts), func(x shift) bool { return last-x.Day+1 <= youngShift })
}

// applyShifts divides the demand of the days since each shift by its factor, and sums it up again.
func applyShifts(all []*series, shifts []shift) {
	if len(shifts) == 0 {
		return
	}
	for _, s := range all {
		for _, x := range shifts {
			if !x.of(s.key) {
				continue
			}
			factor := math.Exp(-x.Log)
			for t := max(0, x.Day-s.since); t < len(s.y); t++ {
				s.y[t], s.eventDemand[t] = s.y[t]*factor, s.eventDemand[t]*factor
			}
		}
		s.cumulate(s.sum[0], s.count[0])
	}
}

// shiftOf is the factor of the shifts on a day of a series, and the variance of its log while they are young.
func (st *State) shiftOf(key SeriesKey, day int) (factor, variance float64) {
	factor = 1
	for _, x := range st.shifts {
		if x.of(key) && day >= x.Day {
			factor *= math.Exp(x.Log)
			if st.last-x.Day+1 <= youngShift {
				variance += x.Error * x.Error
			}
		}
	}
	return factor, variance
}
