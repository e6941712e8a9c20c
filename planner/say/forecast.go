package say

import (
	"strings"

	"hotday/planner/demand/forecast"
)

var forecastKeys = map[forecast.NoteCode]string{
	forecast.NoHistory: "forecast.no_history", forecast.ShortHistory: "forecast.short_history", forecast.NoTemps: "forecast.no_temps",
	forecast.StandIn: "forecast.stand_in", forecast.Stale: "forecast.stale", forecast.Capped: "forecast.capped", forecast.ColdStart: "forecast.cold_start",
	forecast.WeekdayEffect: "forecast.weekday", forecast.TempEffect: "forecast.temp", forecast.RainEffect: "forecast.rain",
	forecast.HolidayEffect: "forecast.holiday", forecast.LevelEffect: "forecast.level",
	forecast.UnknownHoliday: "forecast.unknown_holiday", forecast.BeyondHistory: "forecast.beyond_history",
	forecast.NoTempAhead: "forecast.no_temp_ahead", forecast.DaysWithoutTemp: "forecast.days_without_temp",
}

// ForecastNote says a fact behind a forecast, a phrase without a full stop.
func (v Voice) ForecastNote(n forecast.Note) string {
	if n.Series != "" {
		series := n.Series
		n.Series = ""
		return v.Say("forecast.series", "series", series, "note", v.ForecastNote(n))
	}
	switch n.Code {
	case forecast.Weekdays:
		return v.weekdaysKnown(n)
	case forecast.OpenHours:
		return v.Say("basis.hours", "pct", Number(100*(1+n.Effect), 0))
	case forecast.EventEffect:
		key := "forecast.event"
		if n.Days == 0 {
			key = "forecast.unknown_event"
		}
		return v.Say(key, "event", n.Event, "n", n.Days, "pct", signedPct(n.Effect))
	case forecast.ShiftEffect:
		return v.Say("forecast.shift", "pct", signedPct(n.Effect), "date", v.DayYear(n.Date.At(720, v.Location())))
	case forecast.BeyondHistory:
		if n.TempC != 0 {
			return v.Say("forecast.up_to", "temp", v.WholeTemp(n.TempC), "known", v.WholeTemp(n.KnownC))
		}
	case forecast.Capped:
		return v.Say("forecast.capped", "n", n.Days, "date", v.DayYear(n.Date.At(720, v.Location())))
	}
	return v.Say(forecastKeys[n.Code], "n", n.Days, "pct", signedPct(n.Effect), "temp", v.WholeTemp(n.TempC), "known", v.WholeTemp(n.KnownC))
}

// weekdaysKnown says how many days of the weekday the forecast knows, and how many of them were hot.
func (v Voice) weekdaysKnown(n forecast.Note) string {
	days := v.Weekdays(n.Days, n.Weekday)
	if n.WarmDays == 0 {
		return days
	}
	return v.Say("forecast.warm_days", "days", days, "warm", n.WarmDays, "temp", v.WholeTemp(n.TempC))
}

// ForecastBasis says what a day's forecast rests on: "53 Saturdays, 6 of them above 27 °C; +12% for the weekday, +38% for 31 °C".
func (v Voice) ForecastBasis(notes []forecast.Note) string {
	var out strings.Builder
	effects := 0 // in a row, which commas part
	for i, n := range notes {
		switch n.Code {
		case forecast.WeekdayEffect, forecast.TempEffect, forecast.RainEffect, forecast.HolidayEffect, forecast.LevelEffect:
			effects++
		default:
			effects = 0
		}
		switch {
		case i == 0:
		case effects > 1:
			out.WriteString(v.Say("said.comma"))
		default:
			out.WriteString(v.Say("said.semicolon"))
		}
		out.WriteString(v.ForecastNote(n))
	}
	return out.String()
}

// signedPct is a relative effect in per cent with its sign: "+38", "−12".
func signedPct(effect float64) string {
	if effect > 0 {
		return "+" + Number(100*effect, 0)
	}
	return Number(100*effect, 0)
}
