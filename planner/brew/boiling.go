package brew

import "math"

// airPressure is the pressure of the standard atmosphere at altitudeM, kPa (ISO 2533 / ICAO, below 11 km).
func airPressure(altitudeM float64) float64 {
	return 101.325 * math.Pow(1-0.0065*altitudeM/288.15, 5.25588)
}

// BoilingPoint is the boiling point of water at altitudeM, °C: the saturation line of IAPWS-IF97 region 4 (backward
// equation) at the pressure of the standard atmosphere.
func BoilingPoint(altitudeM float64) float64 {
	const (
		n1, n2, n3, n4, n5  = 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7
		n6, n7, n8, n9, n10 = 0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3
	)
	beta := math.Sqrt(math.Sqrt(airPressure(altitudeM) / 1000))
	e := beta*beta + n3*beta + n6
	f := n1*beta*beta + n4*beta + n7
	g := n2*beta*beta + n5*beta + n8
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	return (n10+d-math.Sqrt((n10+d)*(n10+d)-4*(n9+n10*d)))/2 - 273.15
}
