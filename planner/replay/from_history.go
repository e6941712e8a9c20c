package replay

import "hotday/models"

// FromHistory makes a season from the records of a site; it still has to be validated.
func FromHistory(setup models.Setup, days []models.PastDay) Season {
	season := Season{Setup: setup}
	for _, d := range days {
		day := Day{Date: d.Date, Closed: d.Closed, Holiday: d.Holiday, HolidayName: d.HolidayName, Weather: DayWeather(d.Observed)}
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
