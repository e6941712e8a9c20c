package forecast

import (
	"math"
	"slices"

	"hotday/models"
)

// series is one series on an axis of days. NaN marks what is not known: demand of closed, missing and coming days, weather that
// nobody gave.
type series struct {
	key      SeriesKey
	first    models.Date
	since    int // days from the site's first day to the axis' first
	last     int // index of the last day with history, −1 without any
	y        []float64
	share    []float64 // of the usual selling time that the demand came in; y is what it would have been in all of it
	event    []string  // of an effect to be learnt, "" on most days
	asked    []float64 // the demand of those days, which y does not hold
	holiday  []float64
	weather  [3][]float64 // temperature, rain, humidity
	weekday  []int        // Monday 0
	yearDay  []float64
	monthDay []float64
	sum      []float64 // of known demand before each day, for means over spans
	count    []float64
	damped   []int // days whose demand was so far out that it was taken as less
	whole    bool  // demand is counted in whole numbers
	guessed  bool  // no day is known: the demand is that of the other series, see borrow
	// The days that can be learnt from: their index, features and regression design, row by row.
	days   []int
	x      []float32
	design []float32
}

// The weather of a day.
const (
	wTemp = iota
	wRain
	wHum
	weathers
)

// newSeries is a series of n days from first on, nothing known.
func newSeries(key SeriesKey, first models.Date, n int) *series {
	s := &series{key: key, first: first, last: -1, y: nans(n), asked: nans(n), share: make([]float64, n), event: make([]string, n), holiday: make([]float64, n), whole: true}
	for w := range s.weather {
		s.weather[w] = nans(n)
	}
	s.weekday, s.yearDay, s.monthDay = make([]int, n), make([]float64, n), make([]float64, n)
	start := first.At(0, utc)
	for i := range n {
		t := start.AddDate(0, 0, i)
		s.weekday[i] = (int(t.Weekday()) + 6) % 7
		s.yearDay[i] = float64(t.YearDay())
		s.monthDay[i] = float64(t.Day())
	}
	return s
}

// put takes the weather and the holiday of a day.
func (s *series) put(i int, a *Ahead) {
	s.holiday[i] = indicator(a.Holiday)
	s.event[i] = eventKey(a.Event)
	for w, x := range [weathers]*float64{a.TempC, a.RainMM, a.Humidity} {
		if x != nil {
			s.weather[w][i] = *x
		}
	}
}

// build lays the past of a document out by series, in the order of their keys, so that the order of rows changes nothing.
func build(past []Past) []*series {
	if len(past) == 0 {
		return nil
	}
	first, last := past[0].Date, past[0].Date
	for i := range past {
		first, last = min(first, past[i].Date), max(last, past[i].Date)
	}
	n := first.DaysUntil(last) + 1
	index := make(map[models.Date]int, n)
	for i := range n {
		index[first.AddDays(i)] = i
	}
	byKey := map[SeriesKey]*series{}
	var all []*series
	for k := range past {
		r := &past[k]
		s := byKey[r.SeriesKey]
		if s == nil {
			s = newSeries(r.SeriesKey, first, n)
			byKey[r.SeriesKey] = s
			all = append(all, s)
		}
		i := index[r.Date]
		s.put(i, &r.Ahead)
		if r.Open && r.Demand != nil {
			s.share[i] = r.share()
			s.y[i] = *r.Demand / s.share[i]
			s.last = max(s.last, i)
			s.whole = s.whole && *r.Demand == math.Trunc(*r.Demand)
		}
	}
	slices.SortFunc(all, func(a, b *series) int { return a.key.compare(b.key) })
	return all
}

// settle takes what is far out as less and the days of events for themselves, and prepares the means.
func settle(all []*series) (usual map[string]bool) {
	for _, s := range all {
		s.damp()
	}
	usual = setApart(all)
	for _, s := range all {
		s.sums(0, 0)
	}
	return usual
}

func nans(n int) []float64 {
	xs := make([]float64, n)
	for i := range xs {
		xs[i] = math.NaN()
	}
	return xs
}

// damp takes a demand that lies many times beyond everything else as the edge of the rest: a count of a million by mistake would
// bend every mean. The edge is far out: eight times the 98 % quantile of the series.
func (s *series) damp() {
	known := make([]float64, 0, len(s.y))
	for _, y := range s.y {
		if !math.IsNaN(y) {
			known = append(known, y)
		}
	}
	if len(known) < 10 {
		return
	}
	slices.Sort(known)
	edge := 8 * known[min(len(known)-2, int(0.98*float64(len(known))))]
	if edge == 0 {
		return // all but one are zero: nothing to measure by
	}
	for i, y := range s.y {
		if y > edge {
			s.y[i] = edge
			s.damped = append(s.damped, i)
		}
	}
}

// sums prepares the means; sum and count are those of the days before the axis.
func (s *series) sums(sum, count float64) {
	n := len(s.y)
	s.sum, s.count = make([]float64, n+1), make([]float64, n+1)
	s.sum[0], s.count[0] = sum, count
	for i, y := range s.y {
		s.sum[i+1], s.count[i+1] = s.sum[i], s.count[i]
		if !math.IsNaN(y) {
			s.sum[i+1] += y
			s.count[i+1]++
		}
	}
}

// mean is that of the known demand on days from ≤ i < to; ok is false where none is known.
func (s *series) mean(from, to int) (m float64, ok bool) {
	from = max(from, 0)
	if to <= from || s.count[to] == s.count[from] {
		return 0, false
	}
	return (s.sum[to] - s.sum[from]) / (s.count[to] - s.count[from]), true
}

// usual is the mean of all that is known up to and with day o.
func (s *series) usual(o int) (float64, bool) {
	if o < -1 || s.count[o+1] == 0 {
		return 0, false
	}
	return s.sum[o+1] / s.count[o+1], true
}

// meanOfLast is that of the last k days that have known demand, up to and with day o. Where the shop was closed for weeks it
// reaches further back, but not over more than three times k days.
func (s *series) meanOfLast(k, o int) (float64, bool) {
	from := o + 1 - k
	if m, ok := s.mean(from, o+1); ok && s.count[o+1]-s.count[max(from, 0)] >= float64(k)/3 {
		return m, true
	}
	if m, ok := s.mean(o+1-longest*k/28, o+1); ok {
		return m, true
	}
	return s.usual(o)
}

// longest is how far back the mean of 28 days reaches where the shop was closed, in days.
const longest = 84

// borrow gives a series without history the mean demand of the known series, day by day. known is not empty.
func (s *series) borrow(known []*series) {
	s.guessed, s.whole = true, true
	for i := range s.y {
		sum, n := 0.0, 0.0
		for _, other := range known {
			if !math.IsNaN(other.y[i]) {
				sum, n = sum+other.y[i], n+1
			}
		}
		if n > 0 {
			s.y[i] = sum / n
			s.last = i
		}
	}
	sum, count, n := 0.0, 0.0, float64(len(known))
	for _, other := range known {
		sum, count = sum+other.sum[0], count+other.count[0]
	}
	s.sums(sum/n, count/n)
}
