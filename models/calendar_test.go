package models

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// Transitions in Europe/Berlin: 2026-03-29 02:00 → 03:00 and 2026-10-25 03:00 → 02:00 (IANA time zone database).
func berlin() Site {
	return Site{
		Timezone: "Europe/Berlin", SetupMin: 60,
		DayParts: []DayPart{{"night", "00:00", "07:00"}, {"day", "07:00", "18:00"}, {"evening", "18:00", "24:00"}},
		Opening:  []Opening{{Weekday: "sun", From: "00:00", To: "24:00"}, {Weekday: "sat", From: "07:00", To: "20:00"}},
	}
}

func TestDaysOf23And25Hours(t *testing.T) {
	t.Parallel()
	s := berlin()
	for date, want := range map[Date]float64{"2026-03-29": 23, "2026-10-25": 25, "2026-07-12": 24} {
		var hours float64
		for _, p := range s.DayParts {
			sp := s.DayPartSpan(date, p)
			hours += sp.To.Sub(sp.From).Hours()
		}
		assert.InDelta(t, want, hours, 1e-9, "%s", date)
		open := s.OpenSpans(date)
		assert.Len(t, open, 1)
		assert.InDelta(t, want, open[0].To.Sub(open[0].From).Hours(), 1e-9, "%s", date)
	}
}

func TestServiceDayPastMidnight(t *testing.T) {
	t.Parallel()
	s := Site{
		Timezone: "Europe/Berlin", SetupMin: 30,
		DayParts: []DayPart{{"evening", "17:00", "00:00"}, {"late", "00:00", "01:00"}},
		Opening:  []Opening{{Weekday: "fri", From: "17:00", To: "01:00"}, {Weekday: "sat", From: "17:00", To: "01:00"}},
	}
	loc := s.Location()
	at := func(d Date, h, m int) time.Time { return d.At(h*60+m, loc) }
	assert.Equal(t, Date("2026-07-11"), s.ServiceDayOf(at("2026-07-12", 0, 59)), "Saturday's service runs to 01:00")
	assert.Equal(t, Date("2026-07-12"), s.ServiceDayOf(at("2026-07-12", 1, 0)))
	late := s.DayPartSpan("2026-07-11", s.DayParts[1])
	assert.Equal(t, at("2026-07-12", 0, 0), late.From, "a part after midnight belongs to the day before")
	people := s.StaffSpans("2026-07-11")
	assert.Equal(t, at("2026-07-11", 16, 30), people[0].From)
	assert.Equal(t, at("2026-07-12", 1, 30), people[0].To)
	assert.Equal(t, at("2026-07-12", 1, 30), s.DayEnd("2026-07-11"))
	assert.Empty(t, s.OpenSpans("2026-07-12"), "closed on Sunday")
}

func TestSplitOpeningHours(t *testing.T) {
	t.Parallel()
	s := Site{Timezone: "Europe/Berlin", SetupMin: 60, Opening: []Opening{{Weekday: "sat", From: "14:00", To: "18:00"}, {Weekday: "sat", From: "07:00", To: "11:00"}}}
	assert.Len(t, s.OpenSpans("2026-07-11"), 2)
	assert.Len(t, s.StaffSpans("2026-07-11"), 2, "two hours off between closing and opening")
	s.SetupMin = 90
	assert.Len(t, s.StaffSpans("2026-07-11"), 1, "adjoining set-up spans are merged")
}

func TestDateHoursOverrideWeekdayHours(t *testing.T) {
	t.Parallel()
	saturday, monday := Date("2026-07-11"), Date("2026-07-13")
	s := Site{Timezone: "Europe/Berlin", Opening: []Opening{{Weekday: "sat", From: "07:00", To: "19:00"},
		{Date: &saturday, From: "10:00", To: "13:00"}, {Date: &monday, From: "00:00", To: "02:00"}}}
	span := func(d Date, from, to int) []Span {
		return []Span{{From: d.At(from*60, s.Location()), To: d.At(to*60, s.Location())}}
	}
	assert.Equal(t, span(saturday, 10, 13), s.OpenSpans(saturday))
	assert.Equal(t, span(saturday, 7, 19), s.UsualSpans(saturday))
	assert.Equal(t, span("2026-07-18", 7, 19), s.OpenSpans("2026-07-18"))
	assert.Len(t, s.OpenSpans(monday), 1, "a day on which the shop is usually closed")
	assert.Empty(t, s.UsualSpans(monday))
}

func TestDates(t *testing.T) {
	t.Parallel()
	var d Date
	for _, bad := range []string{"2026-02-30", "2026-13-01", "26-01-01", "2026-1-1", "0001-01-01"} {
		assert.Error(t, d.UnmarshalText([]byte(bad)), bad)
	}
	assert.NoError(t, d.UnmarshalText([]byte("2028-02-29")))
	assert.Equal(t, Date("2028-03-01"), d.AddDays(1))
	assert.Equal(t, 366, Date("2028-01-01").DaysUntil("2029-01-01"))
	var c Clock
	for _, bad := range []string{"24:01", "7:00", "07:60", "", "0700"} {
		assert.Error(t, c.UnmarshalText([]byte(bad)), bad)
	}
	assert.NoError(t, c.UnmarshalText([]byte("24:00")))
	assert.Equal(t, 1440, c.Minutes())
}
