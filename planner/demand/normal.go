package demand

import "math"

// normalCDF is the standard normal distribution function.
func normalCDF(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

// normalQuantile is the standard normal score of a level in (0, 1).
func normalQuantile(level float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*level) }

func normalPDF(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }

// Levels are clamped to [minLevel, maxLevel], the probabilities of scores from −maxScore to maxScore. More extreme demand occurs
// less than once in thirty thousand rows, beyond the accuracy of any range.
const (
	maxScore = 4.0
	maxLevel = 0.99996832875816688 // normalCDF(maxScore)
	minLevel = 1 - maxLevel
)

func clampLevel(level float64) float64 {
	if !(level > minLevel) { // also NaN
		return minLevel
	}
	return math.Min(level, maxLevel)
}
