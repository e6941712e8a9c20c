package ice

import (
	"cmp"
	"slices"
)

// Default change of output of a machine known only by its rating, as a share per °C above the rating point: an assumption, to
// be replaced with the data plate.
const (
	AirSlope   = -0.015
	WaterSlope = -0.010
)

// Rating conditions assumed for a machine that states none. They are the flattering ones, from which output falls furthest on a
// hot day: the cautious choice.
const (
	DefaultRatedAirC   = 21.0
	DefaultRatedWaterC = 10.0
)

// Point is one measured output of a machine.
type Point struct{ AirC, WaterC, KgPerDay float64 }

// Maker is an ice machine, given by an output curve or a rating.
type Maker struct {
	KgPerDayRated float64
	RatedAirC     float64
	RatedWaterC   float64
	Curve         []Point // in any order; empty: the rating with the default slopes
}

// KgPerDay is the machine's output at airC and inlet water temperature waterC, at least 0.
//
// A curve is interpolated by air temperature at each of its water temperatures, then between those: bilinear interpolation on a
// full grid. Above the curve's range it is extrapolated with the last slope, but never upwards; below it stays at the edge
// value, the cautious choice. A line of one point falls by the default slope.
func (m Maker) KgPerDay(airC, waterC float64) float64 {
	if len(m.Curve) == 0 {
		return max(0, m.KgPerDayRated*(1+AirSlope*(airC-m.RatedAirC)+WaterSlope*(waterC-m.RatedWaterC)))
	}
	pts := slices.Clone(m.Curve)
	slices.SortStableFunc(pts, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.WaterC, b.WaterC), cmp.Compare(a.AirC, b.AirC))
	})
	var byWater []knot
	for i := 0; i < len(pts); {
		j := i
		var line []knot
		for ; j < len(pts) && pts[j].WaterC == pts[i].WaterC; j++ {
			line = append(line, knot{pts[j].AirC, pts[j].KgPerDay})
		}
		byWater = append(byWater, knot{pts[i].WaterC, along(line, airC, AirSlope)})
		i = j
	}
	return max(0, along(byWater, waterC, WaterSlope))
}

type knot struct{ at, value float64 }

// along interpolates between sorted knots. Below the first it keeps that value; above the last it keeps falling, with a single
// knot by slope per degree, relative to its value.
func along(line []knot, at, slope float64) float64 {
	n := len(line)
	switch {
	case n == 1 && at > line[0].at:
		return line[0].value * (1 + slope*(at-line[0].at))
	case at <= line[0].at:
		return line[0].value
	case at >= line[n-1].at:
		a, b := line[n-2], line[n-1]
		if b.at == a.at {
			return b.value
		}
		return b.value + min(0, (b.value-a.value)/(b.at-a.at))*(at-b.at)
	}
	i, _ := slices.BinarySearchFunc(line, at, func(k knot, x float64) int { return cmp.Compare(k.at, x) })
	a, b := line[i-1], line[i]
	return a.value + (b.value-a.value)*(at-a.at)/(b.at-a.at)
}
