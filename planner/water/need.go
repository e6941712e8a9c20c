package water

// Need is the treated water, L, for brewWaterG g to brew, drinkIceG g of ice to make of which making loses lossPct %
// (flushed away or spilt), and rinseL L of rinsing: brew water + drink ice/(1 − loss) + rinse. lossPct below 100. 1 kg of
// water counts as 1 L.
func Need(brewWaterG, drinkIceG, lossPct, rinseL float64) float64 {
	return brewWaterG/1000 + IceWater(drinkIceG, lossPct) + rinseL
}

// IceWater is the water, L, that iceG g of ice take to make when making loses lossPct %, below 100.
func IceWater(iceG, lossPct float64) float64 { return iceG / 1000 / (1 - lossPct/100) }

// Drained is the water, L, that treatment sends down the drain to make treatedL L at recoveryPct % recovery (0 is read as
// unknown: nothing drained).
func Drained(treatedL, recoveryPct float64) float64 {
	if recoveryPct <= 0 || recoveryPct >= 100 {
		return 0
	}
	return treatedL * (100/recoveryPct - 1)
}
