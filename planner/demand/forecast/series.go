package forecast

import (
	"math"
	"slices"
	"time"

	"hotday/models"
)

// series holds one series on a time axis of days. NaN marks unknown values: the demand of closed, missing and future days, and
// missing weather.
type series struct {
	key         SeriesKey
	first       models.Date
	since       int // days from the site's first day to the start of the axis
	last        int // index of the last day with known demand, −1 if there is none
	y           []float64
	share       []float64 // of the usual selling time; y is the demand scaled up to all of it
	event       []string  // key of an event whose effect is estimated, "" on most days
	eventDemand []float64 // demand of days of events and holidays, excluded from y
	holiday     []float64
	holidayKey  []string     // key of the holiday, "" on other days
	apart       []bool       // days of a holiday whose effect is estimated apart from the learners
	weather     [3][]float64 // temperature, rain, humidity
	weekday     []int        // 0 is Monday
	yearDay     []float64
	monthDay    []float64
	sum         []float64 // of the known demand before each day; with count, for means over spans
	count       []float64
	capped      []int // days whose demand was capped as an outlier
	integer     bool  // all demand is in whole numbers
	borrowed    bool  // without history, its demand is that of the other series
	// The training rows: their days, features and regression design, row by row.
	days   []int
	x      []float32
	design []float32
}

// Weather variables.
const (
	wTemp = iota
	wRain
	wHum
	weatherVars
)

// newSeries is a series of n days from first on without data.
func newSeries(key SeriesKey, first models.Date, n int) *series {
	s := &series{key: key, first: first, last: -1, y: nans(n), eventDemand: nans(n), share: make([]float64, n), event: make([]string, n), holiday: make([]float64, n), holidayKey: make([]string, n), apart: make([]bool, n), integer: true}
	for w := range s.weather {
		s.weather[w] = nans(n)
	}
	s.weekday, s.yearDay, s.monthDay = make([]int, n), make([]float64, n), make([]float64, n)
	start := first.At(0, time.UTC)
	for i := range n {
		t := start.AddDate(0, 0, i)
		s.weekday[i] = (int(t.Weekday()) + 6) % 7
		s.yearDay[i] = float64(t.YearDay())
		s.monthDay[i] = float64(t.Day())
	}
	return s
}

// set sets the holiday, event and weather of a day.
func (s *series) set(i int, a *Ahead) {
	s.holiday[i] = indicator(a.Holiday)
	s.event[i] = eventKey(a.Event)
	if a.Holiday {
		s.holidayKey[i] = holidayKey(a.HolidayName)
	}
	for w, x := range [weatherVars]*float64{a.TempC, a.RainMM, a.Humidity} {
		if x != nil {
			s.weather[w][i] = *x
		}
	}
}

// buildSeries lays out the history by series, sorted by key so that the order of rows does not matter.
func buildSeries(past []Past) []*series {
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
		s.set(i, &r.Ahead)
		if r.Open && r.Demand != nil {
			s.share[i] = r.share()
			s.y[i] = *r.Demand / s.share[i]
			s.last = max(s.last, i)
			s.integer = s.integer && *r.Demand == math.Trunc(*r.Demand)
		}
	}
	slices.SortFunc(all, func(a, b *series) int { return a.key.compare(b.key) })
	return all
}

// cleanSeries caps outliers, excludes the days of events, and prepares the means. It returns the events that count as usual.
func cleanSeries(all []*series) (usual map[string]bool) {
	for _, s := range all {
		s.capOutliers()
	}
	usual = excludeEvents(all)
	for _, s := range all {
		s.cumulate(0, 0)
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

// capOutliers caps demand at eight times the 98 % quantile of the series: a count of a million by mistake would distort every
// mean.
func (s *series) capOutliers() {
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
	limit := 8 * known[min(len(known)-2, int(0.98*float64(len(known))))]
	if limit == 0 {
		return // all but one are zero: there is no scale
	}
	for i, y := range s.y {
		if y > limit {
			s.y[i] = limit
			s.capped = append(s.capped, i)
		}
	}
}

// cumulate prepares the means; sum and count are the totals of the days before the axis.
func (s *series) cumulate(sum, count float64) {
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

// mean is the mean of the known demand on days from ≤ i < to; ok is false if none is known.
func (s *series) mean(from, to int) (m float64, ok bool) {
	from = max(from, 0)
	if to <= from || s.count[to] == s.count[from] {
		return 0, false
	}
	return (s.sum[to] - s.sum[from]) / (s.count[to] - s.count[from]), true
}

// meanTo is the mean of all known demand up to and including day o.
func (s *series) meanTo(o int) (float64, bool) {
	if o < -1 || s.count[o+1] == 0 {
		return 0, false
	}
	return s.sum[o+1] / s.count[o+1], true
}

// meanOfLast is the mean of the known demand of the last k days up to day o; of the last 3·k days if fewer than a third of the k
// are known; else of all days.
func (s *series) meanOfLast(k, o int) (float64, bool) {
	from := o + 1 - k
	if m, ok := s.mean(from, o+1); ok && s.count[o+1]-s.count[max(from, 0)] >= float64(k)/3 {
		return m, true
	}
	if m, ok := s.mean(o+1-maxReachDays*k/28, o+1); ok {
		return m, true
	}
	return s.meanTo(o)
}

// maxReachDays is how far back the mean of 28 days reaches, in days.
const maxReachDays = 84

// borrow gives a series without history the mean demand of the known series, day by day. known is not empty.
func (s *series) borrow(known []*series) {
	s.borrowed, s.integer = true, true
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
	s.cumulate(sum/n, count/n)
}
