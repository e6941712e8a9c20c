package brew

import "math"

// RatioFor is the ratio (all water per dose) at which a recipe with this ice share ends at finalTDSPct % with its ice
// melted; ok is false when none does, and strongest is then the most that the share allows.
//
// With N = (1−s)R + S − A, the brewed liquid per dose, the final strength is S(1−s)N/((N + A)(N + s(A − S))). It falls with
// N beyond √(A·s·(A−S)); on the other branch the grounds keep most of the brew, so the larger root is the recipe.
func RatioFor(finalTDSPct, iceShare, retainedRatio, maxYieldPct float64) (ratio, strongest float64, ok bool) {
	a, s, tau := retainedRatio, maxYieldPct/100, finalTDSPct/100
	c, pour := iceShare*(a-s), 1-iceShare
	least := s // the brewed liquid at the point where the grounds keep all of the water
	if c > 0 {
		least = max(least, math.Sqrt(a*c))
	}
	strongest = 100 * s * pour * least / ((least + a) * (least + c))
	b := tau*(a+c) - s*pour
	disc := b*b - 4*tau*tau*a*c
	if tau <= 0 || disc < 0 {
		return 0, strongest, false
	}
	n := (-b + math.Sqrt(disc)) / (2 * tau)
	if !(n > least) {
		return 0, strongest, false
	}
	return (n - s + a) / pour, strongest, true
}
