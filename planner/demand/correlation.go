package demand

import "math"

// Correlation is the assumption on how rows move together. What exceeds the noise of counting in a row's variance is moved in
// part by the level of its service day, shared by all drinks and day parts; the rest is the row's own.
type Correlation struct {
	Day  float64 // share of that excess that the day's level moves, 0 to 1
	Next float64 // correlation of the levels of two days that follow each other, 0 to 1
}

// Assumed is used where the site's own history has not told. On 732 days of seven dishes of one restaurant (yaz, open data),
// forecast by the mean of eight same weekdays, the shared part of the excess variance is 0.51 and the correlation from one day
// to the next 0.05.
func Assumed() Correlation { return Correlation{Day: 0.5, Next: 0.05} }

// Loading is the weight of the day's score in a row's: the row's score is l·day + √(1−l²)·own, both standard normal.
func (c Correlation) Loading(dispersed float64) float64 {
	return math.Sqrt(clamp01(c.Day) * clamp01(dispersed))
}

// Servings fills dst with the servings of a row on simulated days: day are the scores of the day's level, own the row's.
func (c Correlation) Servings(t *Table, day, own, dst []float64) {
	l := c.Loading(t.Dispersed())
	rest := math.Sqrt(1 - l*l)
	for i := range dst {
		dst[i] = t.At(l*day[i] + rest*own[i])
	}
}

func clamp01(x float64) float64 {
	if !(x > 0) {
		return 0
	}
	return math.Min(x, 1)
}
