package review

import (
	"cmp"
	"math"
	"slices"

	"hotday/models"
)

// JudgedRow is a drink in a day part of a past day: what was counted, servings without the effect of events, and what had been said
// before. Count NaN judges nobody.
type JudgedRow struct {
	Date           models.Date
	DayPart, Drink string
	Count          float64
	Word           *models.ExpectedDemand // with Expected; nil: the manager said nothing
	Forecast       *models.SaidRow        // nil: there was none
	Observed       bool                   // the forecast knew the weather as it came
}

// Judge holds the manager's word and the forecast against what was counted, over all rows from a date on; the weeks are those of
// all rows. The order of the rows does not matter.
func Judge(rows []JudgedRow, from models.Date) models.TrackRecord {
	all, observed := newTrial(), map[models.Date]bool{}
	drinks, parts := map[string]*trial{}, map[string]*trial{}
	pairs, weeks := map[partOfDay]*trial{}, map[models.Date]*trial{}
	out := models.TrackRecord{Drinks: []models.DrinkRecord{}, Parts: []models.PartRecord{}, Rows: []models.RowRecord{}, Weeks: []models.PeriodRecord{}}
	for i := range rows {
		r := &rows[i]
		if math.IsNaN(r.Count) || (r.Word == nil && r.Forecast == nil) {
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
		of(pairs, partOfDay{r.DayPart, r.Drink}).add(r)
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

// partOfDay is a drink in a day part.
type partOfDay struct{ part, drink string }

// trial gathers the word and the forecast of a group of rows.
type trial struct{ word, forecast, beside *tally }

func newTrial() *trial { return &trial{newTally(), newTally(), newTally()} }

func of[K comparable](m map[K]*trial, k K) *trial {
	if m[k] == nil {
		m[k] = newTrial()
	}
	return m[k]
}

func (t *trial) add(r *JudgedRow) {
	if f := r.Forecast; f != nil {
		t.forecast.add(r.Date, f.P50, &f.P10, &f.P90, r.Count)
		if r.Word != nil {
			t.beside.add(r.Date, f.P50, &f.P10, &f.P90, r.Count)
		}
	}
	if w := r.Word; w != nil {
		t.word.add(r.Date, *w.Expected, w.P10, w.P90, r.Count)
	}
}

func (t *trial) record() models.Record {
	return models.Record{Word: t.word.score(), Forecast: t.forecast.score(), Beside: t.beside.score()}
}

// tally adds up how far off numbers were.
type tally struct {
	rows, ranges             int
	off, said, count, inside float64
	days                     map[models.Date]*[2]float64 // said, counted
}

func newTally() *tally { return &tally{days: map[models.Date]*[2]float64{}} }

func (t *tally) add(d models.Date, said float64, p10, p90 *float64, count float64) {
	t.rows++
	t.off += math.Abs(said - count)
	t.said += said
	t.count += count
	if t.days[d] == nil {
		t.days[d] = &[2]float64{}
	}
	t.days[d][0] += said
	t.days[d][1] += count
	if p10 == nil || p90 == nil {
		return
	}
	t.ranges++
	switch {
	case count > *p10 && count < *p90:
		t.inside++
	case count == *p10 || count == *p90:
		t.inside += 0.5
	}
}

func (t *tally) score() models.Score {
	s := models.Score{Days: len(t.days), Rows: t.rows, Ranges: t.ranges}
	if t.count > 0 {
		days := make([]float64, 0, len(t.days)) // in order of size: sums do not depend on the order of a map
		for _, d := range t.days {
			days = append(days, math.Abs(d[0]-d[1]))
		}
		slices.Sort(days)
		s.OffPct, s.DayOffPct, s.BiasPct = percentOf(t.off, t.count), percentOf(models.Sum(days), t.count), percentOf(t.said-t.count, t.count)
	}
	if t.ranges > 0 {
		s.InsidePct = percentOf(t.inside, float64(t.ranges))
	}
	return s
}

// percentOf is a part of a whole to a tenth.
func percentOf(part, whole float64) *float64 {
	p := math.Round(1000*part/whole) / 10
	return &p
}
