package demand

import (
	"fmt"
	"math"
	"slices"
)

// maxWeeks is the number of past weeks that the interim forecast uses.
const maxWeeks = 8

// SameWeekday forecasts a row from the counts of the same weekday and day part, newest last, of which it uses the last eight:
// negative binomial, its variance shrunk towards a guess (m + 0.04·m²) and inflated for the error of the mean when there are few.
// basisTail completes a sentence such as "Saturdays: …". Without values it returns a mean of 0 and no levels.
func SameWeekday(values []float64) (mean float64, levels, quantiles []float64, basisTail string) {
	if len(values) > maxWeeks {
		values = values[len(values)-maxWeeks:]
	}
	n := float64(len(values))
	if n == 0 {
		return 0, nil, nil, "no counts on this weekday yet"
	}
	values, outlier := capOutlier(values)
	for _, v := range values {
		mean += v / n
	}
	var squares float64
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	const guessDays = 4 // weight of the guess, in days
	guess := mean + mean*mean/GuessSize
	variance := math.Max((squares+guessDays*guess)/(n-1+guessDays), mean) * (1 + 1/n)
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
	if outlier > 0 {
		basisTail += fmt.Sprintf("; a count of %.0f lies many times beyond the others and is taken as less: look whether it is right", outlier)
	}
	return mean, levels, quantiles, basisTail
}

// FarOut is the outlier threshold: a count of more than FarOut times all others is taken as a mistake and capped there.
const FarOut = 8

// capOutlier caps the largest of three or more values at [FarOut] times the second largest, and returns its original value, 0 if
// it was within.
func capOutlier(values []float64) ([]float64, float64) {
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
