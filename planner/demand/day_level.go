package demand

// DayLevel is what is known of a service day's level, the factor on all its expectations: gamma distributed with mean
// Shape/Rate. Counts are Poisson about level·expected, so that the gamma stays a gamma as they come (conjugate prior).
type DayLevel struct{ Shape, Rate float64 }

// NewDayLevel is the prior: mean 1 and the given relative standard deviation, above 0; 0.15 to 0.25 is usual for a forecast.
func NewDayLevel(relativeSD float64) DayLevel {
	if !(relativeSD > 1e-3) {
		relativeSD = 1e-3
	}
	s := 1 / (relativeSD * relativeSD)
	return DayLevel{Shape: s, Rate: s}
}

// Observe returns the level after count servings were sold where expected were expected, both over the same rows so far.
// weight, in (0, 1], is what one count is worth: below 1 where the rows so far have a spread of their own.
func (l DayLevel) Observe(expected, count, weight float64) DayLevel {
	if !(expected >= 0) || !(count >= 0) || !(weight > 0) {
		return l
	}
	return DayLevel{Shape: l.Shape + weight*count, Rate: l.Rate + weight*expected}
}

// Mean is the expected factor on the rest of the day.
func (l DayLevel) Mean() float64 { return l.Shape / l.Rate }

// Rest is the range of a row still to come: its mean moved by the level's, its spread the level's that is left and the
// row's own (the share of r's dispersion that the day's level does not explain) over the noise of counting.
func (l DayLevel) Rest(r Range, c Correlation) Range {
	m := r.mean * l.Mean()
	if !(m > 0) {
		return None(r.basis)
	}
	t := r.Table()
	relative := (t.Variance() - t.Mean()) / (r.mean * r.mean) // of the dispersion, before the day began
	if relative < 0 {
		relative = 0
	}
	own := relative * (1 - c.Day)
	spread := own + 1/l.Shape
	if spread < 1e-6 {
		spread = 1e-6
	}
	return NegativeBinomial{Mean: m, Size: 1 / spread}.Range(joinBasis(r.basis, "moved by the day's counts"))
}
