package risk

import (
	"math"

	"hotday/planner/demand"
)

// Assumptions are the parameters of the simulation that are not part of a request. All are rough estimates from the trade unless
// stated otherwise. The zero value adds no variation to the rows' own.
type Assumptions struct {
	// Correlation is that of demand within and between service days; see demand.DefaultCorrelation.
	Correlation demand.Correlation
	// WeatherShare is the share of the variance of a day's demand level that is due to the error of the temperature forecast: on a
	// day warmer than forecast demand is higher and less ice is made. The rows' ranges already include that error.
	WeatherShare float64
	// TempSD is the standard deviation of the error of a same-day temperature forecast, °C; TempSDPerDay is added per day ahead.
	TempSD, TempSDPerDay float64
	// CountSD is the relative standard deviation of a stock count by eye; CountSDPerH is added per hour since, up to MaxCountSD.
	CountSD, CountSDPerH, MaxCountSD float64
	// OutputSD is the relative standard deviation of a machine's daily output at a known temperature.
	OutputSD float64
}

// DefaultAssumptions returns the defaults, for sites without data of their own.
func DefaultAssumptions() Assumptions {
	return Assumptions{
		Correlation:  demand.DefaultCorrelation(),
		WeatherShare: 0.4,
		TempSD:       1.0, TempSDPerDay: 0.4,
		CountSD: 0.03, CountSDPerH: 0.01, MaxCountSD: 0.25,
		OutputSD: 0.06,
	}
}

// TempSDAt returns the standard deviation of the error of a temperature forecast aheadDays ahead, °C.
func (a Assumptions) TempSDAt(aheadDays float64) float64 {
	return math.Max(0, a.TempSD+a.TempSDPerDay*math.Max(0, aheadDays))
}

// CountSDAt returns the relative standard deviation of a count ageH hours old.
func (a Assumptions) CountSDAt(ageH float64) float64 {
	sd := math.Max(0, a.CountSD+a.CountSDPerH*math.Max(0, ageH))
	if a.MaxCountSD > 0 {
		sd = math.Min(sd, a.MaxCountSD)
	}
	return sd
}

// logNormal maps a standard normal score to a lognormal factor with mean 1 and standard deviation sd.
func logNormal(sd, z float64) float64 {
	if !(sd > 0) {
		return 1
	}
	v := math.Log1p(sd * sd)
	return math.Exp(math.Sqrt(v)*z - v/2)
}
