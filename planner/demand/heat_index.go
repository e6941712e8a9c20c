package demand

import "math"

// HeatIndex is the apparent temperature in °C in the shade at tempC °C and humidityPct % relative humidity: Rothfusz's regression
// with its two adjustments (National Weather Service, SR 90-23, from memory). Below 80 °F the simple formula applies; it is
// already averaged with the air temperature.
func HeatIndex(tempC, humidityPct float64) float64 {
	t, r := tempC*9/5+32, humidityPct
	simple := 0.5 * (t + 61 + (t-68)*1.2 + r*0.094)
	if simple < 80 {
		return (simple - 32) * 5 / 9
	}
	hi := -42.379 + 2.04901523*t + 10.14333127*r - 0.22475541*t*r - 6.83783e-3*t*t - 5.481717e-2*r*r +
		1.22874e-3*t*t*r + 8.5282e-4*t*r*r - 1.99e-6*t*t*r*r
	switch {
	case r < 13 && t >= 80 && t <= 112:
		hi -= (13 - r) / 4 * math.Sqrt((17-math.Abs(t-95))/17)
	case r > 85 && t >= 80 && t <= 87:
		hi += (r - 85) / 10 * (87 - t) / 5
	}
	return (hi - 32) * 5 / 9
}
