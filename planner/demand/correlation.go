package demand

import (
	"math"

	"hotday/models"
)

// Correlation is how demand moves together across rows. The part of a row's variance in excess of Poisson is driven partly by a
// level shared by all drinks and day parts of the service day; the rest is the row's own.
type Correlation struct {
	Day  float64 // share of the excess variance due to the level of the day, 0 to 1
	Next float64 // correlation between the levels of consecutive days, 0 to 1
}

// DefaultCorrelation is the correlation to use where it has not been estimated from the site's own history. On 732 days of seven dishes of
// one restaurant (yaz, open data), forecast by the mean of eight same weekdays, the shared part of the excess variance is 0.51
// and the correlation from one day to the next 0.05; testdata/day_level.py computes both.
func DefaultCorrelation() Correlation { return Correlation{Day: 0.5, Next: 0.05} }

// CorrelationOf is the correlation that a request states, or the default.
func CorrelationOf(r *models.PlanRequest) Correlation {
	if c := r.DemandCorrelation; c != nil {
		return Correlation{Day: clamp01(c.Day), Next: clamp01(c.NextDay)}
	}
	return DefaultCorrelation()
}

// Loading is the weight l of the day's score in the row's score l·day + √(1−l²)·own, where both are standard normal.
// overdispersion is the row's [Table.Overdispersion].
func (c Correlation) Loading(overdispersion float64) float64 {
	return math.Sqrt(clamp01(c.Day) * clamp01(overdispersion))
}

// Servings fills dst with the servings of a row on simulated days, from the scores of the day's level and the row's own scores.
func (c Correlation) Servings(t *Table, day, own, dst []float64) {
	l := c.Loading(t.Overdispersion())
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
