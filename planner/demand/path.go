package demand

import (
	"math"
	"slices"
)

// Row is the demand for one drink in one day part, spread over slots.
type Row struct {
	Key   string // identifies its stream of random numbers: date, day part and drink
	Day   int    // service day, from 0
	Range Range
	Slot  int       // first slot
	Share []float64 // of the row's demand by slot, from Slot on; sums to at most 1
	G     []float64 // grams of each item in a serving; items beyond its length are 0
}

// PathOptions configures [Path].
type PathOptions struct {
	Correlation Correlation
	Seed        int64
	Samples     int // simulated days; 0: 400
	// ByDay overrides levels by item and service day where it has an entry.
	ByDay [][]float64
}

// defaultSamples is the number of simulated days of a path.
const defaultSamples = 400

// Path returns, for each item (a beverage, or serving ice), the grams by slot that a plan should be able to serve: the
// increments, ≥ 0, of the levels[item] quantile of the cumulative demand since the service day began. Rows are correlated through
// the level of the day. Quantiles are estimated from simulated days, and exact where a single row makes up an item's demand so
// far. levels has one entry per item, in [0, 1].
func Path(rows []Row, slots int, levels []float64, o PathOptions) [][]float64 {
	if o.Samples <= 0 {
		o.Samples = defaultSamples
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
	p := dayDemand{slots: slots, sum: make([]float64, o.Samples), sorted: make([]float64, o.Samples)}
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
			p.addIncrements(out[item], item, clamp01(level))
		}
	}
	return out
}

// dayDemand is one service day: its rows and their servings on each simulated day.
type dayDemand struct {
	rows        []Row
	servings    [][]float64
	slots       int
	sum, sorted []float64
}

// addIncrements adds the increments of one item's quantile path over the service day to dst.
func (p *dayDemand) addIncrements(dst []float64, item int, level float64) {
	var using []int
	first, end := p.slots, 0
	for i, r := range p.rows {
		if item >= len(r.G) || !(r.G[item] > 0) {
			continue
		}
		using = append(using, i)
		first, end = min(first, r.Slot), max(end, r.Slot+len(r.Share))
	}
	slices.SortFunc(using, func(a, b int) int { // so that the result does not depend on the order of the rows
		if p.rows[a].Key < p.rows[b].Key {
			return -1
		}
		return 1
	})
	clear(p.sum)
	started, only, onlyShare := 0, -1, 0.0
	last := 0.0
	for t := max(first, 0); t < min(end, p.slots); t++ {
		for _, i := range using {
			r := &p.rows[i]
			k := t - r.Slot
			if k < 0 || k >= len(r.Share) || !(r.Share[k] > 0) {
				continue
			}
			if only != i {
				started++
				only, onlyShare = i, 0
			}
			onlyShare += r.Share[k]
			g := r.G[item] * r.Share[k]
			for s, x := range p.servings[i] {
				p.sum[s] += g * x
			}
		}
		var q float64
		if started == 1 {
			q = onlyShare * p.rows[only].G[item] * p.rows[only].Range.Quantile(level)
		} else {
			copy(p.sorted, p.sum)
			q = QuantileOf(p.sorted, level)
		}
		dst[t] += math.Max(0, q-last)
		last = math.Max(last, q)
	}
}
