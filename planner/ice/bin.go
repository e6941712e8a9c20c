package ice

import "math"

// MeltG is the ice, g, that melts out of iceG g in hours through uaWPerK W/K from air of airC °C: UA·T_air·t/333.4, never
// more than there is and never less than none.
func MeltG(iceG, uaWPerK, airC, hours float64) float64 {
	return min(max(uaWPerK*airC*hours*3600/LatentHeat, 0), iceG)
}

// LossG is the ice, g, that a bin losing pctPerH % an hour of what it holds melts out of iceG g in hours.
func LossG(iceG, pctPerH, hours float64) float64 {
	return iceG * (1 - math.Pow(1-min(max(pctPerH, 0), 100)/100, hours))
}
