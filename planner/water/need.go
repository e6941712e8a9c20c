package water

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
