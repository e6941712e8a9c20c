package demand

import "strconv"

// sumDays is the number of simulated days of a sum, enough to fix its ends to a few % of their distance.
const sumDays = 1000

// SumQuantiles returns the 10 %, 50 % and 90 % quantiles of the total demand of rows of one service day, correlated as c says. That
// range is narrower than the sum of the rows' own, which would have to be met on the same day. A single row has its own
// quantiles.
func SumQuantiles(rows []Range, c Correlation) (p10, p50, p90 float64) {
	var positive []Range
	for _, r := range rows {
		if r.Mean() > 0 {
			positive = append(positive, r)
		}
	}
	switch len(positive) {
	case 0:
		return 0, 0, 0
	case 1:
		return positive[0].P10(), positive[0].P50(), positive[0].P90()
	}
	scores := NewScores(1, sumDays)
	day, own := make([]float64, sumDays), make([]float64, sumDays)
	servings, sum := make([]float64, sumDays), make([]float64, sumDays)
	scores.Draw("day", day)
	for i, r := range positive {
		scores.Draw(strconv.Itoa(i), own)
		c.Servings(r.Table(), day, own, servings)
		for k, x := range servings {
			sum[k] += x
		}
	}
	return QuantileOf(sum, 0.1), QuantileOf(sum, 0.5), QuantileOf(sum, 0.9)
}
