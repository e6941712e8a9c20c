package demand

// DayLevel is the distribution of a service day's level, the factor on all its expectations: gamma with mean Shape/Rate. Counts
// are Poisson about level·expected, so the gamma is the conjugate prior.
type DayLevel struct{ Shape, Rate float64 }

// NewDayLevel is the prior: mean 1 and the relative standard deviation relativeSD > 0; 0.15 to 0.25 is usual for a forecast.
func NewDayLevel(relativeSD float64) DayLevel {
	if !(relativeSD > 1e-3) {
		relativeSD = 1e-3
	}
	s := 1 / (relativeSD * relativeSD)
	return DayLevel{Shape: s, Rate: s}
}

// Observe returns the posterior after count servings were sold where expected were expected, both over the same rows so far.
// weight, in (0, 1], discounts the counts: it is below 1 where those rows vary on their own. Negative or NaN arguments leave the
// level as it is.
func (l DayLevel) Observe(expected, count, weight float64) DayLevel {
	if !(expected >= 0) || !(count >= 0) || !(weight > 0) {
		return l
	}
	return DayLevel{Shape: l.Shape + weight*count, Rate: l.Rate + weight*expected}
}

// Mean is the expected factor on the rest of the day.
func (l DayLevel) Mean() float64 { return l.Shape / l.Rate }

// Rest is the range of a row still to come. Its mean is scaled by the level's; its excess variance is the row's own part of r's
// (all but c.Day) plus the uncertainty that is left in the level.
func (l DayLevel) Rest(r Range, c Correlation) Range {
	m := r.mean * l.Mean()
	if !(m > 0) {
		return Range{basis: r.basis}
	}
	t := r.Table()
	excess := (t.Variance() - t.Mean()) / (r.mean * r.mean) // relative excess variance before the day began
	if excess < 0 {
		excess = 0
	}
	ownExcess := excess * (1 - c.Day)
	spread := ownExcess + 1/l.Shape
	if spread < 1e-6 {
		spread = 1e-6
	}
	return NegativeBinomial{Mean: m, Size: 1 / spread}.Range().with(r.basis)
}
