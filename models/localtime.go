package models

import (
	"fmt"
	"time"
)

// Date is a local calendar date in ISO 8601, "2026-07-11". Dates compare as strings.
type Date string

const dateLayout = "2006-01-02"

// UnmarshalText rejects dates that do not exist, such as 2026-02-30, and years outside 1900–9998.
func (d *Date) UnmarshalText(b []byte) error {
	t, err := time.Parse(dateLayout, string(b))
	if err != nil {
		return err
	}
	if t.Year() < 1900 || t.Year() > 9998 {
		return fmt.Errorf("the year %d is out of range", t.Year())
	}
	*d = Date(b)
	return nil
}

func (*Date) accepts() string { return "a date that exists, written 2026-07-11" }

func (d Date) parse() time.Time {
	t, _ := time.Parse(dateLayout, string(d))
	return t
}

// AddDays returns the date n days later.
func (d Date) AddDays(n int) Date { return Date(d.parse().AddDate(0, 0, n).Format(dateLayout)) }

// DaysUntil returns the number of calendar days from d to other, negative if other is earlier.
func (d Date) DaysUntil(other Date) int { return int(other.parse().Sub(d.parse()).Hours() / 24) }

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday { return d.parse().Weekday() }

// At returns the instant at a wall-clock time in loc, given in minutes after the date's midnight; 1440 or more is on a later date.
// A time skipped in spring is moved on by the length of the skip; of a time repeated in autumn it is the first.
func (d Date) At(minute int, loc *time.Location) time.Time {
	p := d.parse()
	t := time.Date(p.Year(), p.Month(), p.Day()+minute/1440, minute%1440/60, minute%60, 0, 0, loc)
	_, before := t.Add(-changeReach).Zone()
	_, after := t.Add(changeReach).Zone()
	if before == after {
		return t
	}
	// Near a transition, time.Date may use either offset.
	wall := time.Date(p.Year(), p.Month(), p.Day()+minute/1440, minute%1440/60, minute%60, 0, 0, time.UTC)
	old := wall.Add(-time.Duration(before) * time.Second).In(loc)
	if _, o := old.Zone(); o == before {
		return old
	}
	later := wall.Add(-time.Duration(after) * time.Second).In(loc)
	if _, o := later.Zone(); o == after {
		return later
	}
	return old
}

// changeReach exceeds any daylight saving shift.
const changeReach = 4 * time.Hour

// DateOf returns the calendar date of an instant in loc.
func DateOf(t time.Time, loc *time.Location) Date { return Date(t.In(loc).Format(dateLayout)) }

// Clock is a local wall-clock time, "07:00"; "24:00" is the end of the day.
type Clock string

// UnmarshalText accepts 00:00 to 24:00.
func (c *Clock) UnmarshalText(b []byte) error {
	if string(b) == "24:00" {
		*c = Clock(b)
		return nil
	}
	if _, err := time.Parse("15:04", string(b)); err != nil || len(b) != 5 {
		return fmt.Errorf("%q is no wall-clock time", b)
	}
	*c = Clock(b)
	return nil
}

func (*Clock) accepts() string { return "a wall-clock time from 00:00 to 24:00, written 07:00" }

// Minutes returns the minutes since midnight, 0 to 1440.
func (c Clock) Minutes() int {
	if len(c) != 5 {
		return 0
	}
	return (int(c[0]-'0')*10+int(c[1]-'0'))*60 + int(c[3]-'0')*10 + int(c[4]-'0')
}

// Span is a half-open interval of time [From, To).
type Span struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Contains reports whether t lies in [From, To).
func (s Span) Contains(t time.Time) bool { return !t.Before(s.From) && t.Before(s.To) }

// Empty reports whether the span contains no instant.
func (s Span) Empty() bool { return !s.From.Before(s.To) }

// Overlap returns the intersection of two spans; it is Empty if they do not overlap.
func (s Span) Overlap(o Span) Span {
	if o.From.After(s.From) {
		s.From = o.From
	}
	if o.To.Before(s.To) {
		s.To = o.To
	}
	return s
}
