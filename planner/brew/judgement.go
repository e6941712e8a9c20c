package brew

import (
	"fmt"
	"math"
)

// Brew ratios (g brew water per g dose) over which the model is good for poured brews.
const (
	GoodFromRatio = 8.0
	GoodToRatio   = 17.0
)

// Ideal yield of hot coffee, %: SCA brewing control chart, after Lockhart 1957; from memory.
const chartYieldLow, chartYieldHigh = 18.0, 22.0

// Doubtful is the sentence that advises measuring the yield rather than trusting the model; "" where the model is good.
// Steeped brews reach the equilibrium that it assumes; poured ones come close over brew ratios of 1:8–1:17.
func Doubtful(steeped bool, brewWaterPerDose float64) string {
	if steeped || (brewWaterPerDose >= GoodFromRatio-1e-9 && brewWaterPerDose <= GoodToRatio+1e-9) {
		return ""
	}
	return fmt.Sprintf("1:%.1f of poured water is outside 1:%.0f–1:%.0f, where the modelled yield is good: measure strength and beverage of one brew",
		brewWaterPerDose, GoodFromRatio, GoodToRatio)
}

// YieldSay is the advice for a yield outside the brewing control chart; "" for one inside it.
func YieldSay(yieldPct float64) string {
	shown := math.Round(yieldPct*10) / 10 // as displayed: 17.96 reads 18.0, which is inside
	switch {
	case shown < chartYieldLow:
		return fmt.Sprintf("yield %.1f %% is below the 18–22 %% of the brewing chart: coffee is left in the grounds; pour more and ice less, or grind finer", yieldPct)
	case shown > chartYieldHigh:
		return fmt.Sprintf("yield %.1f %% is above the 18–22 %% of the brewing chart: it may taste bitter; pour less or grind coarser", yieldPct)
	}
	return ""
}
