package brew

import "math"

// RatioFor is the ratio (g water and ice per g dose) at which a recipe with this ice share has a strength of finalTDSPct % once
// all its ice has melted. ok is false if no ratio does. strongest is the highest strength, %, that the ice share allows.
//
// With N = (1−s)R + S − A, the brewed liquid per dose, the final strength is S(1−s)N/((N + A)(N + s(A − S))). It falls with
// N beyond √(A·s·(A−S)). Below that the grounds retain most of the brew, so the larger root is the recipe.
func RatioFor(finalTDSPct, iceShare, retainedRatio, maxYieldPct float64) (ratio, strongest float64, ok bool) {
	a, s, tau := retainedRatio, maxYieldPct/100, finalTDSPct/100
	c, pour := iceShare*(a-s), 1-iceShare
	least := s // brewed liquid per dose when the grounds retain all of the water
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
