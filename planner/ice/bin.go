package ice

// MeltG is the ice, g, that melts out of iceG g in hours through uaWPerK W/K from air of airC °C: UA·T_air·t/333.4, never
// more than there is and never less than none.
func MeltG(iceG, uaWPerK, airC, hours float64) float64 {
	return min(max(uaWPerK*airC*hours*3600/LatentHeat, 0), iceG)
}
