package water

// IceWater is the water, L, needed to make iceG g of ice with a loss of lossPct % (below 100) in making.
func IceWater(iceG, lossPct float64) float64 { return iceG / 1000 / (1 - lossPct/100) }

// Drained is the reject water, L, of treatment that makes treatedL L at a recovery of recoveryPct %. 0 if the recovery is
// unknown (0) or 100 %.
func Drained(treatedL, recoveryPct float64) float64 {
	if recoveryPct <= 0 || recoveryPct >= 100 {
		return 0
	}
	return treatedL * (100/recoveryPct - 1)
}
