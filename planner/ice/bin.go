package ice

// MeltG is the part of iceG g of ice that melts in the given hours in air at airC °C with a heat transfer of uaWPerK W/K, g:
// UA·T_air·t/333.4, clamped to 0…iceG.
func MeltG(iceG, uaWPerK, airC, hours float64) float64 {
	return min(max(uaWPerK*airC*hours*3600/LatentHeat, 0), iceG)
}
