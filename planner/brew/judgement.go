package brew

import "math"

// Brew ratios (g brew water per g dose) over which the model is good for poured brews.
const (
	GoodFromRatio = 8.0
	GoodToRatio   = 17.0
)

// Ideal yield of hot coffee, %: SCA brewing control chart, after Lockhart 1957; from memory.
const ChartYieldLow, ChartYieldHigh = 18.0, 22.0

// Usual yield of cold brew, %, over brew ratios of 1:8–1:17 if 17 to 22 % of the dose dissolves (from memory).
const ColdYieldLow, ColdYieldHigh = 12.5, 19.5

// Doubtful reports whether the yield of a brew should be measured rather than modelled. Steeped brews reach the equilibrium that
// the model assumes; poured ones come close over brew ratios of 1:8–1:17.
func Doubtful(steeped bool, brewWaterPerDose float64) bool {
	return !steeped && (brewWaterPerDose < GoodFromRatio-1e-9 || brewWaterPerDose > GoodToRatio+1e-9)
}

// YieldPosition is the position of a yield relative to the brewing control chart.
type YieldPosition int

// The values of YieldPosition.
const (
	YieldBelowChart YieldPosition = iota - 1
	YieldInChart
	YieldAboveChart
)

// PositionOf compares a yield, %, with the brewing control chart, to the tenth that is displayed: 17.96 reads 18.0, which is inside.
func PositionOf(yieldPct float64) YieldPosition {
	switch shown := math.Round(yieldPct*10) / 10; {
	case shown < ChartYieldLow:
		return YieldBelowChart
	case shown > ChartYieldHigh:
		return YieldAboveChart
	}
	return YieldInChart
}
