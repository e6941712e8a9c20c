package forecast

import (
	"math"
	"slices"

	"hotday/models"
)

// series is one series on an axis of days. NaN marks what is not known: demand of closed, missing and coming days, weather that
// nobody gave.
type series struct {
	name       string
	first      models.Date
	last       int // index of the last day with history, −1 without any
	y          []float64
	open       []bool
	holiday    []float64
	temp       []float64
	rain       []float64
	hum        []float64
	weekday    []int // Monday 0
	yearDay    []float64
	monthDay   []float64
	sum, count []float64 // of known demand before each day, for means over spans
	damped     int       // days whose demand was so far out that it was taken as less
}

// seasons says which weather is known well enough to be used.
type seasons struct{ temp, rain, hum bool }

// build lays the rows of a document out by series, in the order of their names, so that the order of rows changes nothing.
func build(d Document) ([]*series, seasons) {
	first, last, any := d.span()
	if !any {
		return nil, seasons{}
	}
	n := first.DaysUntil(last) + 1
	byName := map[string]*series{}
	get := func(name string) *series {
		s := byName[name]
		if s == nil {
			s = &series{name: name, first: first, last: -1, y: nans(n), open: make([]bool, n), holiday: make([]float64, n), temp: nans(n), rain: nans(n), hum: nans(n)}
			byName[name] = s
		}
		return s
	}
	put := func(s *series, i int, a Ahead) {
		s.open[i] = a.Open
		if a.Holiday {
			s.holiday[i] = 1
		}
		set(s.temp, i, a.TempC)
		set(s.rain, i, a.RainMM)
		set(s.hum, i, a.Humidity)
	}
	for _, r := range d.History {
		s, i := get(r.Series), first.DaysUntil(r.Date)
		put(s, i, r.Ahead)
		if r.Open && r.Demand != nil {
			s.y[i] = *r.Demand
			s.last = max(s.last, i)
		}
	}
	for _, r := range d.Ahead {
		put(get(r.Series), first.DaysUntil(r.Date), r)
	}
	all := make([]*series, 0, len(byName))
	for _, s := range byName {
		all = append(all, s)
	}
	slices.SortFunc(all, func(a, b *series) int {
		if a.name < b.name {
			return -1
		}
		return 1
	})
	for _, s := range all {
		s.calendar(n)
		s.damp()
		s.sums()
	}
	return all, fillWeather(all, n)
}

func set(xs []float64, i int, x *float64) {
	if x != nil {
		xs[i] = *x
	}
}

func nans(n int) []float64 {
	xs := make([]float64, n)
	for i := range xs {
		xs[i] = math.NaN()
	}
	return xs
}

func (s *series) calendar(n int) {
	s.weekday, s.yearDay, s.monthDay = make([]int, n), make([]float64, n), make([]float64, n)
	start := s.first.At(0, utc)
	for i := range n {
		t := start.AddDate(0, 0, i)
		s.weekday[i] = (int(t.Weekday()) + 6) % 7
		s.yearDay[i] = float64(t.YearDay())
		s.monthDay[i] = float64(t.Day())
	}
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
	edge := math.Max(8*known[min(len(known)-2, int(0.98*float64(len(known))))], 20)
	for i, y := range s.y {
		if y > edge {
			s.y[i] = edge
			s.damped++
		}
	}
}

func (s *series) sums() {
	n := len(s.y)
	s.sum, s.count = make([]float64, n+1), make([]float64, n+1)
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

// meanOfLast is that of the last k days that have known demand, up to and with day o. Where the shop was closed for weeks it
// reaches further back, but not over more than three times k days.
func (s *series) meanOfLast(k, o int) (float64, bool) {
	from := o + 1 - k
	if m, ok := s.mean(from, o+1); ok && s.count[o+1]-s.count[max(from, 0)] >= float64(k)/3 {
		return m, true
	}
	if m, ok := s.mean(o+1-3*k, o+1); ok {
		return m, true
	}
	return s.mean(0, o+1)
}

// fillWeather closes gaps of weather: the mean of the other series' value that day, else the mean of the days around it in the
// year, else the mean of all. What fewer than half of the days know is left out of the forecast.
func fillWeather(all []*series, n int) seasons {
	use := func(get func(*series) []float64) bool {
		day := make([]float64, n)
		known := 0
		for i := range n {
			sum, c := 0.0, 0.0
			for _, s := range all {
				if x := get(s)[i]; !math.IsNaN(x) {
					sum, c = sum+x, c+1
				}
			}
			day[i] = sum / c
			if c > 0 {
				known++
			}
		}
		if known*2 < n {
			return false
		}
		fillByYear(day, all[0].yearDay)
		for _, s := range all {
			for i, x := range get(s) {
				if math.IsNaN(x) {
					get(s)[i] = day[i]
				}
			}
		}
		return true
	}
	return seasons{
		temp: use(func(s *series) []float64 { return s.temp }),
		rain: use(func(s *series) []float64 { return s.rain }),
		hum:  use(func(s *series) []float64 { return s.hum }),
	}
}

// fillByYear replaces unknown days by the mean of known ones within ten days of the same day of the year.
func fillByYear(day, yearDay []float64) {
	var sum, count [367]float64
	total, all := 0.0, 0.0
	for i, x := range day {
		if !math.IsNaN(x) {
			sum[int(yearDay[i])] += x
			count[int(yearDay[i])]++
			total, all = total+x, all+1
		}
	}
	for i, x := range day {
		if !math.IsNaN(x) {
			continue
		}
		s, c := 0.0, 0.0
		for d := -10; d <= 10; d++ {
			k := (int(yearDay[i])+d+366-1)%366 + 1
			s, c = s+sum[k], c+count[k]
		}
		if c > 0 {
			day[i] = s / c
		} else {
			day[i] = total / all
		}
	}
}
