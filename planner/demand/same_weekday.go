package demand

import (
	"math"
	"slices"
)

// maxWeeks is the number of past weeks that the interim forecast uses.
const maxWeeks = 8

// Weekday is a forecast of a row from the counts of the same weekday and day part.
type Weekday struct {
	Mean              float64
	Levels, Quantiles []float64
	Days              int     // used, at most [maxWeeks]; 0: there is no forecast
	Low, High         float64 // the smallest and the largest count used
	Outlier           float64 // a count that was capped, see [OutlierFactor]; 0: none
}

// SameWeekday forecasts a row from the counts of the same weekday and day part, newest last, of which it uses the last eight:
// negative binomial, its variance shrunk towards a guess (m + 0.04·m²) and inflated for the error of the mean when there are few.
func SameWeekday(values []float64) Weekday {
	if len(values) > maxWeeks {
		values = values[len(values)-maxWeeks:]
	}
	w := Weekday{Days: len(values)}
	if w.Days == 0 {
		return w
	}
	values, w.Outlier = capOutlier(values)
	n, mean := float64(w.Days), 0.0
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
	w.Mean, w.Levels = mean, []float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95}
	w.Quantiles = make([]float64, len(w.Levels))
	for i, l := range w.Levels {
		w.Quantiles[i] = d.Quantile(l)
	}
	w.Low, w.High = slices.Min(values), slices.Max(values)
	return w
}

// OutlierFactor is the outlier threshold: a count of more than OutlierFactor times all others is taken as a mistake and capped there.
const OutlierFactor = 8

// capOutlier caps the largest of three or more values at [OutlierFactor] times the second largest, and returns its original value, 0 if
// it was within.
func capOutlier(values []float64) ([]float64, float64) {
	if len(values) < 3 {
		return values, 0
	}
	sorted := slices.Sorted(slices.Values(values))
	top, next := sorted[len(sorted)-1], math.Max(sorted[len(sorted)-2], 1)
	if top <= OutlierFactor*next {
		return values, 0
	}
	out := slices.Clone(values)
	for i, v := range out {
		out[i] = math.Min(v, OutlierFactor*next)
	}
	return out, top
}
