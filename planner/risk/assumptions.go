package risk

import (
	"math"

	"hotday/planner/demand"
)

// Assumptions are the numbers of the simulation that no request states. All are a trade guess unless said otherwise; the zero
// value is no variation at all beyond the rows' own.
type Assumptions struct {
	// Demand moves together within a service day, see demand.Assumed.
	Correlation demand.Correlation
	// WeatherShare is the part of the variance of a day's level that the error of the temperature forecast makes: a day warmer
	// than forecast asks for more and makes less ice. The rows' ranges are to contain that error already; it is not added.
	WeatherShare float64
	// TempSD is the standard deviation of the temperature forecast of the same day, °C; TempSDPerDay is added for each day ahead.
	TempSD, TempSDPerDay float64
	// CountSD is the relative standard deviation of a stock that was just counted by eye, CountSDPerH is added for each hour
	// since, up to CountSDMost.
	CountSD, CountSDPerH, CountSDMost float64
	// OutputSD is the relative standard deviation of a machine's output over a day at a known temperature.
	OutputSD float64
}

// Assumed is what is taken where the site's own days have not told.
func Assumed() Assumptions {
	return Assumptions{
		Correlation:  demand.Assumed(),
		WeatherShare: 0.4,
		TempSD:       1.0, TempSDPerDay: 0.4,
		CountSD: 0.03, CountSDPerH: 0.01, CountSDMost: 0.25,
		OutputSD: 0.06,
	}
}

// TempSDAt returns the standard deviation of the temperature forecast aheadDays ahead, °C.
func (a Assumptions) TempSDAt(aheadDays float64) float64 {
	return math.Max(0, a.TempSD+a.TempSDPerDay*math.Max(0, aheadDays))
}

// CountSDAt returns the relative standard deviation of a count of the given age, h.
func (a Assumptions) CountSDAt(ageH float64) float64 {
	sd := math.Max(0, a.CountSD+a.CountSDPerH*math.Max(0, ageH))
	if a.CountSDMost > 0 {
		sd = math.Min(sd, a.CountSDMost)
	}
	return sd
}

// logNormal returns the factor with mean 1 and relative standard deviation sd at a standard normal score.
func logNormal(sd, z float64) float64 {
	if !(sd > 0) {
		return 1
	}
	v := math.Log1p(sd * sd)
	return math.Exp(math.Sqrt(v)*z - v/2)
}
