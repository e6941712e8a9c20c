package demand

import (
	"math"
	"slices"
)

// DayTotals returns what the first items take on each service day, g by item, day and simulated day in rising order: the same simulated
// days as [Path]'s, whose increments add up to a quantile of these totals.
func DayTotals(rows []Row, items, days int, o PathOptions) [][][]float64 {
	if o.Samples <= 0 {
		o.Samples = defaultSamples
	}
	out := make([][][]float64, items)
	for i := range out {
		for range days {
			out[i] = append(out[i], make([]float64, o.Samples))
		}
	}
	scores := NewScores(o.Seed, o.Samples)
	level := scores.DrawDays("day", days, o.Correlation.Next)
	own, servings := make([]float64, o.Samples), make([]float64, o.Samples)
	for _, r := range rows {
		if r.Day < 0 || r.Day >= days || !(r.Range.Mean() > 0) {
			continue
		}
		scores.Draw(r.Key, own)
		o.Correlation.Servings(r.Range.Table(), level[r.Day], own, servings)
		share := 0.0
		for _, s := range r.Share {
			share += math.Max(0, s)
		}
		for i := range min(items, len(r.G)) {
			if g := r.G[i] * share; g > 0 {
				for k, x := range servings {
					out[i][r.Day][k] += g * x
				}
			}
		}
	}
	for i := range out {
		for d := range out[i] {
			slices.Sort(out[i][d])
		}
	}
	return out
}
