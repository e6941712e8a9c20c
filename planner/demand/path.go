package demand

import (
	"math"
	"slices"
)

// Row is the demand of one drink in one day part as slots see it.
type Row struct {
	Key   string // of its random numbers: date, day part and drink
	Day   int    // service day, from 0
	Range Range
	Slot  int       // first slot
	Share []float64 // of the row's demand, slot by slot from Slot; adds up to at most 1
	G     []float64 // g that a serving takes of each item; shorter than the items: 0 for the rest
}

// PathOptions are the assumptions of Path.
type PathOptions struct {
	Correlation Correlation
	Seed        int64
	Samples     int // 0: 400
	// ByDay are the levels of an item by service day, instead of its one in levels; items and days that it lacks have that one.
	ByDay [][]float64
}

// Path returns, for each item (a beverage, or serving ice), the grams by slot that a plan should serve: the increments of the
// levels[item] quantile of what has been asked for since the service day began. They are ≥ 0. Demand of the rows is correlated
// through the day's level; the quantiles are those of sampled days, exact where one row alone makes the demand of an item so
// far. levels has one entry an item, in [0, 1].
func Path(rows []Row, slots int, levels []float64, o PathOptions) [][]float64 {
	if o.Samples <= 0 {
		o.Samples = 400
	}
	items := len(levels)
	flat := make([]float64, items*slots)
	out := make([][]float64, items)
	for i := range out {
		out[i] = flat[i*slots : (i+1)*slots]
	}
	byDay := map[int][]int{}
	days := 0
	for i, r := range rows {
		if r.Day >= 0 && r.Range.Mean() > 0 {
			byDay[r.Day] = append(byDay[r.Day], i)
			days = max(days, r.Day+1)
		}
	}
	scores := NewScores(o.Seed, o.Samples)
	day := scores.DrawDays("day", days, o.Correlation.Next)
	p := pathOf{slots: slots, sum: make([]float64, o.Samples), sorted: make([]float64, o.Samples)}
	own := make([]float64, o.Samples)
	for d := range days {
		p.rows = p.rows[:0]
		for k, i := range byDay[d] {
			if k == len(p.servings) {
				p.servings = append(p.servings, make([]float64, o.Samples))
			}
			p.rows = append(p.rows, rows[i])
			scores.Draw(rows[i].Key, own)
			o.Correlation.Servings(rows[i].Range.Table(), day[d], own, p.servings[k])
		}
		for item := range items {
			level := levels[item]
			if item < len(o.ByDay) && d < len(o.ByDay[item]) {
				level = o.ByDay[item][d]
			}
			p.fill(out[item], item, clamp01(level))
		}
	}
	return out
}

// pathOf is the demand of one service day: its rows and their servings on the sampled days.
type pathOf struct {
	rows        []Row
	servings    [][]float64
	slots       int
	sum, sorted []float64
}

// fill adds one item's increments over the service day to dst.
func (p *pathOf) fill(dst []float64, item int, level float64) {
	var mine []int
	first, end := p.slots, 0
	for i, r := range p.rows {
		if item >= len(r.G) || !(r.G[item] > 0) {
			continue
		}
		mine = append(mine, i)
		first, end = min(first, r.Slot), max(end, r.Slot+len(r.Share))
	}
	slices.SortFunc(mine, func(a, b int) int { // sums do not depend on the order of the rows
		if p.rows[a].Key < p.rows[b].Key {
			return -1
		}
		return 1
	})
	clear(p.sum)
	began, lone, loneShare := 0, -1, 0.0
	last := 0.0
	for t := max(first, 0); t < min(end, p.slots); t++ {
		for _, i := range mine {
			r := &p.rows[i]
			k := t - r.Slot
			if k < 0 || k >= len(r.Share) || !(r.Share[k] > 0) {
				continue
			}
			if lone != i {
				began++
				lone, loneShare = i, 0
			}
			loneShare += r.Share[k]
			g := r.G[item] * r.Share[k]
			for s, x := range p.servings[i] {
				p.sum[s] += g * x
			}
		}
		var q float64
		if began == 1 {
			q = loneShare * p.rows[lone].G[item] * p.rows[lone].Range.Quantile(level)
		} else {
			copy(p.sorted, p.sum)
			q = quantileOf(p.sorted, level)
		}
		dst[t] += math.Max(0, q-last)
		last = math.Max(last, q)
	}
}
