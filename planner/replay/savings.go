package replay

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"hotday/models"
)

// A saving is clear from clearDays open days on if 9 such spans in 10 save something, and more than clearShare of the plan's cost.
const (
	clearDays  = 7
	clearLevel = 0.9
	clearShare = 0.01
)

// Savings are what each Change would have saved: the plan's cost less that of the plan in the changed shop, over the same days with the
// same demand. A single day has none, as nothing tells how much days differ.
func (r *Result) Savings() []models.ReplaySaving {
	out := []models.ReplaySaving{}
	for k, p := range r.Points {
		if p.Change == nil || len(r.Days) < 2 {
			continue
		}
		var diffs []float64
		cost := 0.0
		x := models.ReplaySaving{Kind: p.Change.Kind, Was: p.Change.Was, Amount: p.Change.Amount}
		for i := range r.Days {
			d := &r.Days[i]
			saved := d.Figures[Plan].Cost() - d.Points[k].Cost()
			diffs, cost = append(diffs, saved), cost+d.Figures[Plan].Cost()
			if d.Open {
				x.Of++
				if saved > 0 {
					x.Days++
				}
			}
		}
		x.Money, x.Low, x.High = sumWithin(diffs)
		x.Clear = x.Of >= clearDays && x.Low > 0 && x.Money >= clearShare*cost
		out = append(out, x)
	}
	return out
}

// sumWithin returns the sum of the days' differences, and the bounds between which 8 in 10 sums of as many such days lie (Student's t), of 2 days or more.
// What is left of one day is sold or poured away on the next, so the variance of the sum has the covariance of neighbouring days in it
// (Newey & West 1987, one lag) where that is positive.
func sumWithin(diffs []float64) (sum, low, high float64) {
	n := float64(len(diffs))
	for _, x := range diffs {
		sum += x
	}
	mean, own, next := sum/n, 0.0, 0.0
	for i, x := range diffs {
		own += (x - mean) * (x - mean)
		if i > 0 {
			next += (x - mean) * (diffs[i-1] - mean)
		}
	}
	variance := (own + max(0, next)) * n / (n - 1) // 2 × the weight ½ of one lag
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(clearLevel) * math.Sqrt(variance)
	return sum, sum - half, sum + half
}
