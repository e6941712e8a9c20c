package brew

import (
	"fmt"
	"math"
)

// Range of brew water per dose over which the model is good for poured brews.
const (
	GoodFromRatio = 8.0
	GoodToRatio   = 17.0
)

// Ideal yield and strength of hot coffee: SCA brewing control chart, after Lockhart 1957; from memory.
const (
	ChartYieldLow, ChartYieldHigh = 18.0, 22.0
	ChartTDSLow, ChartTDSHigh     = 1.15, 1.35
)

// Doubtful says in a sentence why the modelled yield should be measured, "" where the model is good. steeped brews reach
// the equilibrium that the model describes; poured ones only about, over 1:8–1:17 of brew water.
func Doubtful(steeped bool, brewWaterPerDose float64) string {
	if steeped || (brewWaterPerDose >= GoodFromRatio-1e-9 && brewWaterPerDose <= GoodToRatio+1e-9) {
		return ""
	}
	return fmt.Sprintf("1:%.1f of poured water is outside 1:%.0f–1:%.0f, where the modelled yield is good: measure strength and beverage of one brew",
		brewWaterPerDose, GoodFromRatio, GoodToRatio)
}

// YieldSay places a yield on the brewing chart, "" inside it.
func YieldSay(yieldPct float64) string {
	shown := math.Round(yieldPct*10) / 10 // as it is written: 17.96 reads 18.0, which is inside
	switch {
	case shown < ChartYieldLow:
		return fmt.Sprintf("yield %.1f %% is below the 18–22 %% of the brewing chart: coffee is left in the grounds; pour more and ice less, or grind finer", yieldPct)
	case shown > ChartYieldHigh:
		return fmt.Sprintf("yield %.1f %% is above the 18–22 %% of the brewing chart: it may taste bitter; pour less or grind coarser", yieldPct)
	}
	return ""
}
