package say

import (
	"strings"
	"time"

	"hotday/models"
	"hotday/planner/demand"
)

var basisKeys = map[demand.Basis]string{demand.OverrideNone: "basis.stated_none", demand.OverrideRange: "basis.stated_range",
	demand.OverrideForecastSpread: "basis.stated_forecast", demand.OverrideGuess: "basis.stated_guess"}

// DemandBasis says what the range of a row rests on. f is the row's forecast, whose own basis is repeated; nil if there is none.
func (v Voice) DemandBasis(r demand.Range, f *models.Forecast) string {
	if key, ok := basisKeys[r.Basis()]; ok {
		return v.Say(key)
	}
	basis := v.Say("basis.forecast")
	if f != nil && f.Basis != "" {
		basis = f.Basis
	}
	if r.Basis() == demand.ForecastGuess {
		basis += v.Say("said.semicolon") + v.Say("basis.guess")
	}
	return basis
}

// WeekdayBasis says what a forecast from the same weekday rests on; openShare is the share of the usual selling time that the day has.
func (v Voice) WeekdayBasis(day time.Weekday, w demand.Weekday, openShare float64) string {
	var parts []string
	say := func(key string, args ...any) { parts = append(parts, v.Say(key, args...)) }
	days, low, high := v.Weekdays(w.Days, day), Number(w.Low, 0), Number(w.High, 0)
	switch {
	case w.Days == 1:
		say("basis.weekday_one", "days", days, "sold", Number(w.Mean, 0))
	case w.Days < fewWeekdays:
		say("basis.weekdays_few", "days", days, "low", low, "high", high)
	default:
		say("basis.weekdays", "days", days, "low", low, "high", high)
	}
	if w.Outlier > 0 {
		say("basis.outlier", "count", Number(w.Outlier, 0))
	}
	if openShare != 1 {
		say("basis.hours", "pct", Number(openShare*100, 0))
	}
	say("basis.no_forecast")
	return strings.Join(parts, v.Say("said.semicolon"))
}

// fewWeekdays is the number of weeks below which the range of a forecast from the same weekday is said to be wide.
const fewWeekdays = 4

// Weekdays is a number of days of one weekday: "8 Saturdays".
func (v Voice) Weekdays(n int, day time.Weekday) string {
	return v.Say("basis.days."+Number(float64(day), 0), "n", n)
}
