package replay

import (
	"hotday/models"
	"hotday/planner"
)

// FromHistory is the season of a shop's own days, as its database has them.
func FromHistory(setup models.Setup, days []planner.PastDay) Season {
	season := Season{Setup: setup}
	for _, d := range days {
		day := Day{Date: d.Date, Closed: d.Closed, Weather: DayWeather(d.Observed)}
		if len(d.Forecast) > 0 {
			day.Forecast = &Weather{Hours: d.Forecast}
		}
		for _, x := range d.Counts {
			day.Counts = append(day.Counts, Count{DayPart: x.DayPart, Drink: x.Drink, Count: x.Servings, OffSale: x.OffSale})
		}
		season.Days = append(season.Days, day)
	}
	return season
}
