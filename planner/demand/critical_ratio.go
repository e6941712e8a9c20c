package demand

import "math"

// CriticalRatio is the newsvendor's service level shortCost/(shortCost + overCost), the costs of one unit too little and one too
// much. servicePct, 0 to 100, overrides it unless nil. Negative costs count as 0; the level is 0.5 if both are 0.
func CriticalRatio(shortCost, overCost float64, servicePct *float64) float64 {
	if servicePct != nil {
		return math.Min(1, math.Max(0, *servicePct/100))
	}
	shortCost, overCost = math.Max(0, shortCost), math.Max(0, overCost)
	switch {
	case shortCost+overCost <= 0, math.IsNaN(shortCost + overCost):
		return 0.5
	case math.IsInf(shortCost, 1):
		return 1
	}
	return shortCost / (shortCost + overCost)
}
