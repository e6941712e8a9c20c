package say

import (
	"math"
	"strconv"
	"strings"
	"time"

	"hotday/models"
)

// Clock formats a time of day: "14:45" or "2:45 pm".
func (w Writer) Clock(t time.Time) string {
	t = t.In(w.loc)
	if w.units.Clock != models.Clock12 {
		return t.Format("15:04")
	}
	half := "date.am"
	if t.Hour() >= 12 {
		half = "date.pm"
	}
	return t.Format("3:04") + NoBreak + w.words.Say(half)
}

// SetClock formats a time of day of the set-up, "00:00" to "24:00", by the site's clock. Anything else is returned unchanged.
func (w Writer) SetClock(at models.Clock) string {
	s := string(at)
	if w.units.Clock != models.Clock12 {
		return s
	}
	t, err := time.ParseInLocation("2006-01-02 15:04", "2006-01-02 "+strings.Replace(s, "24:", "00:", 1), w.loc)
	if err != nil {
		return s
	}
	return w.Clock(t)
}

// Hour formats a full hour in short: "14" or "2 pm".
func (w Writer) Hour(t time.Time) string {
	if w.units.Clock != models.Clock12 {
		return t.In(w.loc).Format("15")
	}
	return w.FullHour(t)
}

// FullHour formats a full hour on the axis of a chart: "14:00" or "2 pm".
func (w Writer) FullHour(t time.Time) string {
	if w.units.Clock != models.Clock12 {
		return w.Clock(t)
	}
	return strings.Replace(w.Clock(t), ":00", "", 1)
}

// Weekday is the day of the week of an instant: "Saturday".
func (w Writer) Weekday(t time.Time) string {
	return w.words.Say("date.weekday." + strconv.Itoa(int(t.In(w.loc).Weekday())))
}

// ShortWeekday is the day of the week of an instant in short: "Sat".
func (w Writer) ShortWeekday(t time.Time) string {
	return w.words.Say("date.short." + strconv.Itoa(int(t.In(w.loc).Weekday())))
}

// DayName is the day of the week of a date: "Saturday".
func (w Writer) DayName(d models.Date) string { return w.Weekday(d.At(noon, w.loc)) }

// ShortDay is the day of the week of a date in short: "Sat".
func (w Writer) ShortDay(d models.Date) string { return w.ShortWeekday(d.At(noon, w.loc)) }

const noon = 12 * 60 // minutes from midnight

// Day formats a date in words: "Saturday 11 July" or "Saturday, July 11".
func (w Writer) Day(t time.Time) string { return w.date("date.day.", t) }

// ShortDate formats a date in short: "4 Jul" or "Jul 4".
func (w Writer) ShortDate(t time.Time) string {
	t = t.In(w.loc)
	return w.words.Say("date.brief."+w.units.Dates, "day", t.Day(), "month", w.words.Say("date.short_month."+strconv.Itoa(int(t.Month()))), "mm", t.Format("01"), "dd", t.Format("02"))
}

// DayYear formats a date with its year: "Saturday 11 July 2026".
func (w Writer) DayYear(t time.Time) string { return w.date("date.year.", t) }

// Days formats a range of dates: "Saturday 11 to Sunday 12 July".
func (w Writer) Days(first, last time.Time) string {
	first, last = first.In(w.loc), last.In(w.loc)
	key := "date.days"
	if first.Month() == last.Month() && first.Year() == last.Year() {
		key = "date.days." + w.units.Dates
	}
	return w.words.Say(key, "first", w.Day(first), "weekday", w.Weekday(first), "day", first.Day(), "last", w.Day(last), "weekday2", w.Weekday(last), "day2", last.Day())
}

func (w Writer) date(pattern string, t time.Time) string {
	t = t.In(w.loc)
	return w.words.Say(pattern+w.units.Dates, "weekday", w.Weekday(t), "day", t.Day(), "month", w.words.Say("date.month."+strconv.Itoa(int(t.Month()))),
		"year", t.Year(), "mm", t.Format("01"), "dd", t.Format("02"))
}

// At formats an instant by its weekday: "Saturday 14:45".
func (w Writer) At(t time.Time) string {
	return w.words.Say("date.at", "day", w.Weekday(t), "clock", w.Clock(t))
}

// ShortAt formats an instant by its weekday in short: "Sat 14:45", in one piece that no line breaks.
func (w Writer) ShortAt(t time.Time) string {
	return w.words.Say("date.short_at", "day", w.ShortWeekday(t), "clock", w.Clock(t))
}

// Moment formats an instant beside another: the time of day alone on the same date, else with the weekday in short.
func (w Writer) Moment(t, beside time.Time) string {
	if models.DateOf(t, w.loc) == models.DateOf(beside, w.loc) {
		return w.Clock(t)
	}
	return w.ShortAt(t)
}

// Near formats an instant as seen from now: the time of day alone on the same date, with the weekday within six days, else with the
// date.
func (w Writer) Near(t, now time.Time) string {
	t, now = t.In(w.loc), now.In(w.loc)
	switch days := math.Abs(t.Sub(now).Hours() / 24); {
	case t.Format("2006-01-02") == now.Format("2006-01-02"):
		return w.Clock(t)
	case days < 6:
		return w.At(t)
	}
	return w.words.Say("date.at", "day", w.Day(t), "clock", w.Clock(t))
}

// Minutes is Span for a number of minutes, which may be infinite.
func (w Writer) Minutes(min float64) string {
	if math.IsInf(min, 0) {
		return w.words.Say("span.endless")
	}
	return w.Span(models.Minutes(min))
}

// Age formats how old something is: minutes below an hour, then whole hours, then days.
func (w Writer) Age(d time.Duration) string {
	switch {
	case d < time.Hour:
		return w.Span(d)
	case d < 48*time.Hour:
		return w.Span(d.Round(time.Hour))
	}
	return w.Span(d.Round(24 * time.Hour))
}

// Span formats a length of time to the minute: "12 min", "3 h 20 min", "2 days".
func (w Writer) Span(d time.Duration) string {
	m := int(d.Round(time.Minute) / time.Minute)
	switch {
	case m < 1:
		return w.words.Say("span.instant")
	case m < 60:
		return strconv.Itoa(m) + NoBreak + "min"
	case m < 48*60 && m%60 == 0:
		return strconv.Itoa(m/60) + NoBreak + "h"
	case m < 48*60:
		return strconv.Itoa(m/60) + NoBreak + "h " + strconv.Itoa(m%60) + NoBreak + "min"
	}
	return w.words.Say("span.days", "n", m/1440)
}
