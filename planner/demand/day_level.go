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

// Seen is what a row has sold of its demand so far, both in servings. The zero value is nothing.
type Seen struct{ Expected, Count float64 }

// Rest is the range of the share of a row that is still to come; r is the whole row's. Its mean is scaled by the level's and, where some
// of the row has been seen, by the row's own level: gamma as well, with mean 1 and the row's own part of r's relative excess variance (all
// but c.Day) before the day began. Its excess variance is what is left of that part and of the uncertainty in the day's level. Negative or
// NaN figures seen are ignored.
func (l DayLevel) Rest(r Range, share float64, c Correlation, seen Seen) Range {
	m := r.mean * l.Mean() * share
	if !(m > 0) {
		return Range{basis: r.basis}
	}
	t := r.Table()
	own := max(0, (t.Variance()-t.Mean())/(r.mean*r.mean)) * (1 - c.Day)
	if own > 0 && seen.Expected > 0 && seen.Count >= 0 {
		shape, rate := 1/own+seen.Count, 1/own+seen.Expected*l.Mean()
		m, own = m*shape/rate, 1/shape
	}
	return NegativeBinomial{Mean: m, Size: 1 / max(1e-6, own+1/l.Shape)}.Range().with(r.basis)
}
