package demand

import "math"

// phi is the standard normal distribution function.
func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// score is the standard normal quantile of a level in (0, 1).
func score(level float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*level) }

// density is the standard normal density.
func density(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }

// Levels outside [minLevel, maxLevel] are read as the nearest of the two: what lies beyond happens less than once in thirty
// thousand rows, and no range knows it.
const (
	maxScore = 4.0
	maxLevel = 0.99996832875816688 // phi(maxScore)
	minLevel = 1 - maxLevel
)

func clampLevel(level float64) float64 {
	if !(level > minLevel) { // not a number too
		return minLevel
	}
	return math.Min(level, maxLevel)
}
