package forecast

import (
	"time"

	"hotday/models"
)

// NoteCode is the kind of a Note.
type NoteCode int

// The values of NoteCode, with the fields of the Note that belong to each.
const (
	// About the history of a series or of the site.
	NoHistory    NoteCode = iota + 1 // no open day in the history: no forecast
	ShortHistory                     // too short for backtests: the ranges are guesses
	NoTemps                          // at least half of the days have no temperature: it is not used
	Stale                            // no data for the last Days: Series
	Capped                           // counts of Days, the last on Date, are far above all others and were capped; Series
	ColdStart                        // no known day of the series: a guess from the other series; Series

	// About a day ahead.
	Weekdays        // data of Days on this Weekday, WarmDays of them above TempC (0 where temperature is not used)
	WeekdayEffect   // Effect of the weekday
	TempEffect      // Effect of the temperature, TempC
	RainEffect      // Effect of the rain
	HolidayEffect   // Effect of the holiday
	LevelEffect     // Effect of the last weeks
	EventEffect     // Effect of Event, from Days; Days 0: unknown, and the range is widened
	UnknownHoliday  // no holiday in the history: its effect is unknown, and the range is widened
	OpenHours       // Effect of opening hours other than usual
	BeyondHistory   // hotter than any day in the history, KnownC at most: extrapolated, and the range is widened; TempC in an Answer
	NoTempAhead     // no weather forecast: usual weather for the season, and a wide range
	DaysWithoutTemp // the same for Days of an Answer
	ShiftEffect     // Effect of a lasting change of level since Date
	StandIn         // from the drink that it sells like, with Days of its own
)

// Note is a fact behind a forecast: a code and the figures that belong to it. Effects are relative: 0.38 for 38 % more.
type Note struct {
	Code           NoteCode
	Series         string // label; "" in the basis of a day
	Event          string
	Weekday        time.Weekday
	Date           models.Date
	Days, WarmDays int
	Effect         float64
	TempC, KnownC  float64
}
