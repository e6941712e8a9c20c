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
	values, odd := damped(values)
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
	if odd > 0 {
		basisTail += fmt.Sprintf("; a count of %.0f lies many times beyond the others and is taken as less: look whether it is right", odd)
	}
	return mean, levels, quantiles, basisTail
}

// FarOut is how many times beyond the others a count has to lie to be taken as a mistake, and as no more than that.
const FarOut = 8

// damped takes the largest of values as no more than [FarOut] times the next, where there are three or more to tell by, and returns it
// as it was; 0 where it is none such.
func damped(values []float64) ([]float64, float64) {
	if len(values) < 3 {
		return values, 0
	}
	sorted := slices.Sorted(slices.Values(values))
	top, next := sorted[len(sorted)-1], math.Max(sorted[len(sorted)-2], 1)
	if top <= FarOut*next {
		return values, 0
	}
	out := slices.Clone(values)
	for i, v := range out {
		out[i] = math.Min(v, FarOut*next)
	}
	return out, top
}
