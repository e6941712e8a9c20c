package demand

import (
	"fmt"
	"math"
	"slices"
)

// sameWeekdays is how many weeks back the interim forecast looks.
const sameWeekdays = 8

// SameWeekday forecasts a row from the counts of the same weekday and day part, newest last: mean and quantiles of the last
// eight, negative binomial with the spread seen, drawn towards a guess (variance m + 0.04·m²) and widened for the unsure mean
// when they are few. basisTail ends a sentence such as "Saturdays: …". Without values it returns 0 and no levels.
func SameWeekday(values []float64) (mean float64, levels, quantiles []float64, basisTail string) {
	if len(values) > sameWeekdays {
		values = values[len(values)-sameWeekdays:]
	}
	n := float64(len(values))
	if n == 0 {
		return 0, nil, nil, "no counts on this weekday yet"
	}
	for _, v := range values {
		mean += v / n
	}
	var squares float64
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	const weight = 4 // days that the guess is worth
	guess := mean + mean*mean/GuessSize
	variance := math.Max((squares+weight*guess)/(n-1+weight), mean) * (1 + 1/n)
	d := NegativeBinomial{Mean: mean, Size: mean * mean / math.Max(variance-mean, 1e-6*math.Max(mean, 1))}
	levels = []float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95}
	quantiles = make([]float64, len(levels))
	for i, l := range levels {
		quantiles[i] = d.Quantile(l)
	}
	lo, hi := slices.Min(values), slices.Max(values)
	switch {
	case n == 1:
		basisTail = fmt.Sprintf("1 same weekday, %.0f sold; the spread is %s", mean, guessBasis)
	case n < 4:
		basisTail = fmt.Sprintf("mean of %.0f same weekdays, %.0f to %.0f sold; widened, they are few", n, lo, hi)
	default:
		basisTail = fmt.Sprintf("mean of the last %.0f same weekdays, %.0f to %.0f sold", n, lo, hi)
	}
	return mean, levels, quantiles, basisTail
}
