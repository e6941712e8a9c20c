package models

import (
	"math"
	"time"
)

// Shape of a day whose weather nobody has forecast: hottest in the afternoon, coolest twelve hours before (common practice, no source).
const (
	hottestHour = 15
	dailyRangeC = 10.0
)

// HoursUpTo returns the hours of a local date whose hottest hour has highC °C: the known hours of the date, all moved by as much as their
// hottest differs from it, else those of a usual summer day.
func HoursUpTo(known []WeatherHour, d Date, loc *time.Location, highC float64) []WeatherHour {
	var out []WeatherHour
	high := math.Inf(-1)
	for _, w := range known {
		if DateOf(w.At, loc) == d {
			out = append(out, w)
			high = max(high, w.TempC)
		}
	}
	for i := range out {
		out[i].TempC += highC - high
	}
	if len(out) > 0 {
		return out
	}
	for h := range 24 {
		below := dailyRangeC / 2 * (1 - math.Cos(2*math.Pi*float64(h-hottestHour)/24))
		out = append(out, WeatherHour{At: d.At(h*60, loc), TempC: highC - below})
	}
	return out
}
