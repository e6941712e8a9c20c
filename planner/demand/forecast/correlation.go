package forecast

import "math"

// Together is how the errors of a day's rows go together, as learnt from the backtests: the terms of demand.Correlation.
type Together struct {
	Day  float64 // share of the variance in excess of Poisson that the rows of a day have in common
	Next float64 // correlation of that part with the next day's
	Days int     // backtested days it was learnt from; 0: it is the prior
}

// The prior of Together, that of demand.DefaultCorrelation, and the number of days at which the site's own errors count as much.
const (
	priorDay      = 0.5
	priorNext     = 0.05
	togetherDays  = 40
	togetherNext  = 120 // the product of two days' errors says less than a day's own
	mostTogether  = 0.95
	mostErrorSize = 4 // in standard deviations, beyond which a single error counts no further
)

// learnTogether estimates how errors go together by moments, in servings, so that the variance of a day's total is right: the sum of
// the products of the errors of all pairs of rows of a day over that of the geometric means of their excess variances.
func learnTogether(backtests []backtest, spread [][2]float64) Together {
	type sums struct{ e, square, root, rootSquare float64 } // errors, and roots of the excess variances
	byDay := map[int]*sums{}
	bySeries := map[[2]int][2]float64{} // day, series: error and root
	first, last := math.MaxInt, 0
	for i := range backtests {
		b := &backtests[i]
		mean := (b.View.Regression + b.View.Boosting) / 2
		excess := mean * mean * (spread[b.Series][0] + spread[b.Series][1]) / 2
		size := mostErrorSize * math.Sqrt(mean+excess)
		e, root := math.Max(-size, math.Min(size, b.Y-mean)), math.Sqrt(excess)
		d := byDay[b.Day]
		if d == nil {
			d = &sums{}
			byDay[b.Day] = d
		}
		d.e, d.square, d.root, d.rootSquare = d.e+e, d.square+e*e, d.root+root, d.rootSquare+excess
		bySeries[[2]int{b.Day, b.Series}] = [2]float64{e, root}
		first, last = min(first, b.Day), max(last, b.Day)
	}
	var same, most, next, nextMost float64
	days, pairs := 0, 0
	for t := first; t <= last; t++ {
		d := byDay[t]
		if d == nil {
			continue
		}
		if product := d.root*d.root - d.rootSquare; product > 1e-9*d.root*d.root {
			same, most, days = same+d.e*d.e-d.square, most+product, days+1
		}
		n := byDay[t+1]
		if n == nil {
			continue
		}
		product, roots := d.e*n.e, d.root*n.root
		for i := range spread { // a row and itself the day after do not show what the rows have in common
			a, known := bySeries[[2]int{t, i}]
			if b, too := bySeries[[2]int{t + 1, i}]; known && too {
				product, roots = product-a[0]*b[0], roots-a[1]*b[1]
			}
		}
		if roots > 1e-9*d.root*n.root {
			next, nextMost, pairs = next+product, nextMost+roots, pairs+1
		}
	}
	out := Together{Day: priorDay, Next: priorNext, Days: days}
	if days == 0 || most <= 0 {
		return out
	}
	clamp := func(x float64) float64 { return math.Max(0, math.Min(mostTogether, x)) }
	n := float64(days)
	out.Day = clamp((n*clamp(same/most) + togetherDays*priorDay) / (n + togetherDays))
	if pairs > 0 && nextMost > 0 && out.Day > 0.05 {
		m := float64(pairs)
		out.Next = clamp((m*clamp(next/nextMost/out.Day) + togetherNext*priorNext) / (m + togetherNext))
	}
	return out
}

// Together is how the errors of a day's rows go together at the site.
func (st *State) Together() Together {
	if st.together.Days == 0 {
		return Together{Day: priorDay, Next: priorNext}
	}
	return st.together
}
