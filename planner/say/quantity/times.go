package quantity

import (
	"math"
	"strconv"
	"strings"
	"time"

	"hotday/models"
)

// Clock writes a time of day: "14:45", or "2:45 pm".
func (w Writer) Clock(t time.Time) string {
	t = t.In(w.loc)
	if w.units.Clock != models.Clock12 {
		return t.Format("15:04")
	}
	half := "date.am"
	if t.Hour() >= 12 {
		half = "date.pm"
	}
	return t.Format("3:04") + thin + w.words.Say(half)
}

// SetClock writes a time of day as a set-up has it, "07:00" to "24:00", by the site's clock; what is no such time stays as it is.
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

// Hour writes a full hour short: "14", or "2 pm".
func (w Writer) Hour(t time.Time) string {
	if w.units.Clock != models.Clock12 {
		return t.In(w.loc).Format("15")
	}
	return w.FullHour(t)
}

// FullHour writes a full hour on the axis of a picture: "14:00", or "2 pm".
func (w Writer) FullHour(t time.Time) string {
	if w.units.Clock != models.Clock12 {
		return w.Clock(t)
	}
	return strings.Replace(w.Clock(t), ":00", "", 1)
}

// Weekday writes the day of the week.
func (w Writer) Weekday(t time.Time) string {
	return w.words.Say("date.weekday." + strconv.Itoa(int(t.In(w.loc).Weekday())))
}

// ShortWeekday writes the day of the week in a few letters: "Sat".
func (w Writer) ShortWeekday(t time.Time) string {
	return w.words.Say("date.short." + strconv.Itoa(int(t.In(w.loc).Weekday())))
}

// Day writes a day in words: "Saturday 11 July", "Saturday, July 11".
func (w Writer) Day(t time.Time) string { return w.date("date.day.", t) }

// ShortDay writes a date in a few letters: "4 Jul", "Jul 4".
func (w Writer) ShortDay(t time.Time) string {
	t = t.In(w.loc)
	return w.words.Say("date.brief."+w.units.Dates, "day", t.Day(), "month", w.words.Say("date.short_month."+strconv.Itoa(int(t.Month()))), "mm", t.Format("01"), "dd", t.Format("02"))
}

// DayYear writes a day with its year: "Saturday 11 July 2026".
func (w Writer) DayYear(t time.Time) string { return w.date("date.year.", t) }

// Days writes from one day to another: "Saturday 11 to Sunday 12 July".
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

// At writes a moment in words: "Saturday 14:45".
func (w Writer) At(t time.Time) string {
	return w.words.Say("date.at", "day", w.Weekday(t), "clock", w.Clock(t))
}

// Near writes a moment as seen from now: the time alone on the same date, with the weekday within six days, else with the date.
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

// Span writes a length of time: "12 min", "3 h 20 min", "2 days".
func (w Writer) Span(d time.Duration) string {
	m := int(d.Round(time.Minute) / time.Minute)
	switch {
	case m < 1:
		return w.words.Say("span.instant")
	case m < 60:
		return strconv.Itoa(m) + thin + "min"
	case m < 48*60 && m%60 == 0:
		return strconv.Itoa(m/60) + thin + "h"
	case m < 48*60:
		return strconv.Itoa(m/60) + thin + "h " + strconv.Itoa(m%60) + thin + "min"
	}
	return w.words.Say("span.days", "n", m/1440)
}
