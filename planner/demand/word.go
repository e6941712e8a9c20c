package demand

import "hotday/models"

// zeroP10 is the part of the expectation that a stated p10 of 0 is taken as: a logarithm has no zero.
const zeroP10 = 0.05

// FromWord is the range of the manager's word, which wins over the forecast. With p10 and p90: two log-normal halves through
// p10, p50 = expected, and p90. Without: the relative spread of the row's forecast where there is one (nil: none), else a
// guess. Expected 0 means none.
func FromWord(word models.Demand, forecast *models.Forecast) Range {
	if !(word.Expected > 0) {
		return None("stated: none")
	}
	if word.P10 != nil && word.P90 != nil {
		p10 := *word.P10
		if p10 <= 0 {
			p10 = zeroP10 * word.Expected
		}
		h := newHalves(p10, word.Expected, *word.P90)
		return Range{mean: h.mean(), basis: "stated with its range", shape: h}
	}
	if forecast != nil {
		if f := FromForecast(*forecast); f.mean > 0 {
			return f.Scaled(word.Expected / f.mean).WithBasis("stated; the spread is the forecast's")
		}
	}
	return Guess(word.Expected, "stated; the spread is "+guessBasis)
}

// FromRequest is the range of a row from whatever the request has on it: the manager's word first, then the forecast; ok is
// false where it has neither.
func FromRequest(word *models.Demand, forecast *models.Forecast) (r Range, ok bool) {
	switch {
	case word != nil:
		return FromWord(*word, forecast), true
	case forecast != nil:
		return FromForecast(*forecast), true
	}
	return Range{}, false
}
