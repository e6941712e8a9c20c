package demand

import "strconv"

// togetherDays is how many days are drawn for the range of a sum: its ends are then steady to a few % of their distance.
const togetherDays = 1000

// Together returns what rows of one service day are asked for in all on one day in ten at most, at the median, and on nine days
// in ten at most: rows move with the level of their day as c says, and besides each for itself. The ends lie inside the sums of
// the rows' own ends, which would all have to be met on the same day. A row alone has its own.
func Together(rows []Range, c Correlation) (p10, p50, p90 float64) {
	var some []Range
	for _, r := range rows {
		if r.Mean() > 0 {
			some = append(some, r)
		}
	}
	switch len(some) {
	case 0:
		return 0, 0, 0
	case 1:
		return some[0].P10(), some[0].P50(), some[0].P90()
	}
	scores := NewScores(1, togetherDays)
	day, own, servings, sum := make([]float64, togetherDays), make([]float64, togetherDays), make([]float64, togetherDays), make([]float64, togetherDays)
	scores.Draw("day", day)
	for i, r := range some {
		scores.Draw(strconv.Itoa(i), own)
		c.Servings(r.Table(), day, own, servings)
		for k, x := range servings {
			sum[k] += x
		}
	}
	return quantileOf(sum, 0.1), quantileOf(sum, 0.5), quantileOf(sum, 0.9)
}
