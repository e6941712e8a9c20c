package demand

// Basis is the origin of a range.
type Basis int

// The values of Basis.
const (
	FromNothing            Basis = iota // neither an override nor a forecast
	ForecastRange                       // the forecast
	ForecastGuess                       // the forecast's mean with a guessed spread
	OverrideNone                        // an override of no demand
	OverrideRange                       // an override with its own range
	OverrideForecastSpread              // an override with the forecast's relative spread
	OverrideGuess                       // an override with a guessed spread
)

// with returns the range with its origin.
func (r Range) with(b Basis) Range {
	r.basis = b
	return r
}
