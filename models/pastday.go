package models

// PastDay is a service day that is over, as a replay and a review see it.
type PastDay struct {
	Date        Date
	Closed      bool // by the opening hours or an event, or nothing was counted at all
	Holiday     bool
	HolidayName string
	Counts      []PastCount
	Observed    []WeatherHour
	Forecast    []WeatherHour // of the day and the next, as known when the shop closed on the day before; empty where nothing was
}

// PastCount is what a drink sold in a day part; OffSale: it could not be bought in all of it, so the count is not its demand.
type PastCount struct {
	DayPart, Drink string
	Servings       float64
	OffSale        bool
}
