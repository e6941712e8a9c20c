package models

import "time"

// ExpectedDemandEntry is expected demand with the time at which it was stored; Expected nil withdrew it.
type ExpectedDemandEntry struct {
	ExpectedDemand
	StoredAt time.Time
}

// DayForecast is the forecast for a service day from the data available before it began.
type DayForecast struct {
	Date     Date
	MadeAt   time.Time
	Observed bool          // from observed weather, for want of a weather forecast
	Rows     []RowForecast // of the drinks and day parts that the forecast covers
}

// RowForecast is the forecast for a drink in a day part, in servings, without the effect of events whose factor is given. The
// quantiles are continuous: each count is spread evenly over ±½. None is the probability of selling nothing. Records of earlier
// versions have whole quantiles and neither mean nor None.
type RowForecast struct {
	DayPart string   `json:"day_part"`
	Drink   string   `json:"drink"`
	Mean    *float64 `json:"mean,omitempty"`
	P10     float64  `json:"p10"`
	P50     float64  `json:"p50"`
	P90     float64  `json:"p90"`
	None    float64  `json:"none,omitempty"`
}

// Expected is the mean, in earlier records the median for want of it.
func (f *RowForecast) Expected() float64 {
	if f.Mean == nil {
		return f.P50
	}
	return *f.Mean
}

// TrackRecord is the accuracy of the manager's expected demand and of the forecast, each as of before the day began, against sales
// counts. Days without counts, closures, and day parts in which the drink was off sale are left out; days with an event are
// compared without its effect.
type TrackRecord struct {
	MadeAt   time.Time      `json:"made_at"`
	From     *Date          `json:"from"`     // first day compared; null: none
	To       *Date          `json:"to"`       // last day compared
	Observed int            `json:"observed"` // forecast days made from observed weather, for want of a weather forecast
	All      Record         `json:"all"`
	Drinks   []DrinkRecord  `json:"drinks"`
	Parts    []PartRecord   `json:"day_parts"`
	Rows     []RowRecord    `json:"rows"`
	Weeks    []PeriodRecord `json:"weeks"` // of the last half year, from Monday, oldest first
}

// Record compares the manager's expected demand with the forecast.
type Record struct {
	Override Score `json:"word"` // of the manager
	Forecast Score `json:"forecast"`
	Paired   Score `json:"beside"` // of the forecast on the same days and rows as the manager
}

// Score measures accuracy. null means undefined: nothing to compare, or no sales.
type Score struct {
	Days      int      `json:"days"`
	Rows      int      `json:"rows"`        // values compared: one per drink, day part and day
	OffPct    *float64 `json:"off_pct"`     // weighted absolute percentage error of the medians: sum of absolute errors over the sum of counts
	DayOffPct *float64 `json:"day_off_pct"` // the same for daily totals of the means
	BiasPct   *float64 `json:"bias_pct"`    // total of the means over total counts, less 100; positive: too high
	Ranges    int      `json:"ranges"`      // rows that have a range
	InsidePct *float64 `json:"inside_pct"`  // coverage of the ranges by randomised PIT, as counts are whole; 80% if calibrated
}

// DrinkRecord is the Record of a drink.
type DrinkRecord struct {
	Drink string `json:"drink"`
	Record
}

// PartRecord is the Record of a day part.
type PartRecord struct {
	DayPart string `json:"day_part"`
	Record
}

// RowRecord is the Record of a drink in a day part.
type RowRecord struct {
	DayPart string `json:"day_part"`
	Drink   string `json:"drink"`
	Record
}

// PeriodRecord is the Record of a week.
type PeriodRecord struct {
	From Date `json:"from"`
	Record
}
