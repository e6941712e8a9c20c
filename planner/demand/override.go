package demand

import "hotday/models"

// zeroP10Share replaces a stated p10 of 0, as a share of the expectation: a log-normal has no zero.
const zeroP10Share = 0.05

// FromOverride is the range of the manager's override, which takes precedence over the forecast. With p10 and p90 it is a split
// log-normal through p10, the expectation as median, and p90; without them it has the relative spread of the row's forecast, or
// of a guess if forecast is nil. An expectation of 0 gives a range without demand.
func FromOverride(override models.Demand, forecast *models.Forecast) Range {
	if !(override.Expected > 0) {
		return Range{basis: OverrideNone}
	}
	if override.P10 != nil && override.P90 != nil {
		p10 := *override.P10
		if p10 <= 0 {
			p10 = zeroP10Share * override.Expected
		}
		h := newSplitLogNormal(p10, override.Expected, *override.P90)
		return Range{mean: h.mean(), basis: OverrideRange, dist: h}
	}
	if forecast != nil {
		if f := FromForecast(*forecast); f.mean > 0 {
			return f.Scaled(override.Expected / f.mean).with(OverrideForecastSpread)
		}
	}
	return Guess(override.Expected).with(OverrideGuess)
}

// FromRequest is the range of a row: the manager's override if not nil, else the forecast; ok is false if both are nil.
func FromRequest(override *models.Demand, forecast *models.Forecast) (r Range, ok bool) {
	switch {
	case override != nil:
		return FromOverride(*override, forecast), true
	case forecast != nil:
		return FromForecast(*forecast), true
	}
	return Range{}, false
}
