package review

import (
	"cmp"
	"hash/fnv"
	"math"
	"slices"

	"hotday/models"
)

// RecordRow is a drink in a day part of a past day with the numbers that had been stated for it. Count is in servings, without the
// effect of events; NaN leaves the row out.
type RecordRow struct {
	Date           models.Date
	DayPart, Drink string
	Count          float64
	Override       *models.ExpectedDemand // the manager's number, with Expected; nil if there was none
	Forecast       *models.RowForecast    // nil if there was none
	Observed       bool                   // the forecast used the weather as it came
}

// TrackRecord compares the manager's numbers and the forecasts with the counts, over the rows from a date on; its weeks cover all
// rows. The order of the rows does not matter.
func TrackRecord(rows []RecordRow, from models.Date) models.TrackRecord {
	all, observed := newGroup(), map[models.Date]bool{}
	drinks, parts := map[string]*group{}, map[string]*group{}
	pairs, weeks := map[partDrink]*group{}, map[models.Date]*group{}
	out := models.TrackRecord{Drinks: []models.DrinkRecord{}, Parts: []models.PartRecord{}, Rows: []models.RowRecord{}, Weeks: []models.PeriodRecord{}}
	for i := range rows {
		r := &rows[i]
		if math.IsNaN(r.Count) || (r.Override == nil && r.Forecast == nil) {
			continue
		}
		of(weeks, mondayOf(r.Date)).add(r)
		if r.Date < from {
			continue
		}
		if out.From == nil || r.Date < *out.From {
			out.From = new(r.Date)
		}
		if out.To == nil || r.Date > *out.To {
			out.To = new(r.Date)
		}
		if r.Observed && r.Forecast != nil {
			observed[r.Date] = true
		}
		all.add(r)
		of(drinks, r.Drink).add(r)
		of(parts, r.DayPart).add(r)
		of(pairs, partDrink{r.DayPart, r.Drink}).add(r)
	}
	out.Observed, out.All = len(observed), all.record()
	for drink, t := range drinks {
		out.Drinks = append(out.Drinks, models.DrinkRecord{Drink: drink, Record: t.record()})
	}
	for part, t := range parts {
		out.Parts = append(out.Parts, models.PartRecord{DayPart: part, Record: t.record()})
	}
	for k, t := range pairs {
		out.Rows = append(out.Rows, models.RowRecord{DayPart: k.part, Drink: k.drink, Record: t.record()})
	}
	for monday, t := range weeks {
		out.Weeks = append(out.Weeks, models.PeriodRecord{From: monday, Record: t.record()})
	}
	slices.SortFunc(out.Drinks, func(a, b models.DrinkRecord) int { return cmp.Compare(a.Drink, b.Drink) })
	slices.SortFunc(out.Parts, func(a, b models.PartRecord) int { return cmp.Compare(a.DayPart, b.DayPart) })
	slices.SortFunc(out.Rows, func(a, b models.RowRecord) int {
		return cmp.Or(cmp.Compare(a.DayPart, b.DayPart), cmp.Compare(a.Drink, b.Drink))
	})
	slices.SortFunc(out.Weeks, func(a, b models.PeriodRecord) int { return cmp.Compare(a.From, b.From) })
	return out
}

func mondayOf(d models.Date) models.Date { return d.AddDays(-(int(d.Weekday()) + 6) % 7) }

// partDrink is a drink in a day part.
type partDrink struct{ part, drink string }

// group scores the overrides and the forecasts of a group of rows, and the forecasts of the rows that have an override (paired).
type group struct{ override, forecast, paired *tally }

func newGroup() *group { return &group{newTally(), newTally(), newTally()} }

// of is the group under a key, made if there is none.
func of[K comparable](m map[K]*group, k K) *group {
	if m[k] == nil {
		m[k] = newGroup()
	}
	return m[k]
}

func (g *group) add(r *RecordRow) {
	if f := r.Forecast; f != nil {
		s := stated{median: f.P50, mean: f.Expected(), p10: &f.P10, p90: &f.P90, none: f.None}
		g.forecast.add(r, &s)
		if r.Override != nil {
			g.paired.add(r, &s)
		}
	}
	if o := r.Override; o != nil {
		g.override.add(r, &stated{median: *o.Expected, mean: *o.Expected, p10: o.P10, p90: o.P90})
	}
}

func (g *group) record() models.Record {
	return models.Record{Override: g.override.score(), Forecast: g.forecast.score(), Paired: g.paired.score()}
}

// stated is the numbers for a row. p10 and p90 are of a continuous distribution in which each count is spread evenly over ±½, nil if
// there is no range; none is the probability of selling nothing, 0 if it is unknown.
type stated struct {
	median, mean float64
	p10, p90     *float64
	none         float64
}

// inside reports whether a count is between the 10 % and the 90 % quantile by its randomised probability integral transform (Czado,
// Gneiting & Held 2009, from memory), as u in [0, 1) decides: under the right distribution it is so in 80 % of cases, whereas whole
// counts between whole quantiles are inside too rarely or too often.
func (s *stated) inside(count, u float64) bool {
	if count == 0 && s.none > 0 {
		return u*s.none > 0.1 && u*s.none < 0.9
	}
	x := count
	if count == math.Trunc(count) {
		x += u - 0.5
	}
	return x > *s.p10 && x < *s.p90
}

// randomOf is a number in [0, 1) that only depends on the row, so that its record is the same every night.
func randomOf(r *RecordRow) float64 {
	h := fnv.New64a()
	h.Write([]byte(string(r.Date) + "\x00" + r.DayPart + "\x00" + r.Drink))
	x := h.Sum64()
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9 // the finaliser of splitmix64: rows whose names are alike have unlike numbers
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return float64((x^x>>31)>>11) / (1 << 53)
}

// tally adds up the errors of stated numbers: of medians row by row, since the median has the smallest absolute error, and of means
// in totals, since only means add up.
type tally struct {
	rows, ranges, inside int
	off, mean, count     float64
	days                 map[models.Date]*[2]float64 // mean, counted
}

func newTally() *tally { return &tally{days: map[models.Date]*[2]float64{}} }

func (t *tally) add(r *RecordRow, s *stated) {
	t.rows++
	t.off += math.Abs(s.median - r.Count)
	t.mean += s.mean
	t.count += r.Count
	if t.days[r.Date] == nil {
		t.days[r.Date] = &[2]float64{}
	}
	t.days[r.Date][0] += s.mean
	t.days[r.Date][1] += r.Count
	if s.p10 == nil || s.p90 == nil {
		return
	}
	t.ranges++
	if s.inside(r.Count, randomOf(r)) {
		t.inside++
	}
}

func (t *tally) score() models.Score {
	s := models.Score{Days: len(t.days), Rows: t.rows, Ranges: t.ranges}
	if t.count > 0 {
		days := make([]float64, 0, len(t.days)) // sorted, so that the sum does not depend on map order
		for _, d := range t.days {
			days = append(days, math.Abs(d[0]-d[1]))
		}
		slices.Sort(days)
		s.OffPct, s.DayOffPct, s.BiasPct = percentOf(t.off, t.count), percentOf(models.Sum(days), t.count), percentOf(t.mean-t.count, t.count)
	}
	if t.ranges > 0 {
		s.InsidePct = percentOf(float64(t.inside), float64(t.ranges))
	}
	return s
}

// percentOf is part as a percentage of whole, to a tenth.
func percentOf(part, whole float64) *float64 {
	p := math.Round(1000*part/whole) / 10
	return &p
}
