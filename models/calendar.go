package models

import (
	"strings"
	"sync"
	"time"
)

// zones caches time zones by name, since loading one reads a file.
var zones sync.Map

// Location returns the site's time zone, or UTC if the name is unknown, which Validate rejects.
func (s Site) Location() *time.Location {
	loc, err := zone(s.Timezone)
	if err != nil {
		return time.UTC
	}
	return loc
}

// zone is time.LoadLocation, which reads a file only once for each zone.
func zone(name string) (*time.Location, error) {
	if loc, ok := zones.Load(name); ok {
		return loc.(*time.Location), nil
	}
	loc, err := time.LoadLocation(name)
	if err == nil {
		zones.Store(name, loc)
	}
	return loc, err
}

var weekdays = [...]string{"sun", "mon", "tue", "wed", "thu", "fri", "sat"}

// OpenSpans returns the opening hours of a service day in order, none if the shop is closed. A span may end on the next calendar
// date. Hours for the date override those of its weekday.
func (s Site) OpenSpans(d Date) []Span {
	var spans []Span
	for _, o := range s.Opening {
		if o.Date != nil && *o.Date == d {
			spans = append(spans, localSpan(d, o.From, o.To, 0, s.Location()))
		}
	}
	if len(spans) == 0 {
		return s.UsualSpans(d)
	}
	sortSpans(spans)
	return spans
}

// UsualSpans returns the opening hours of the date's weekday, ignoring hours for the date itself.
func (s Site) UsualSpans(d Date) []Span {
	loc, day := s.Location(), weekdays[d.Weekday()]
	var spans []Span
	for _, o := range s.Opening {
		if o.Date == nil && strings.EqualFold(o.Weekday, day) {
			spans = append(spans, localSpan(d, o.From, o.To, 0, loc))
		}
	}
	sortSpans(spans)
	return spans
}

// StaffSpans returns when staff are at work on a service day: the opening hours extended by SetupMin on both sides.
func (s Site) StaffSpans(d Date) []Span {
	pad := time.Duration(s.SetupMin * float64(time.Minute))
	var out []Span
	for _, sp := range s.OpenSpans(d) {
		sp.From, sp.To = sp.From.Add(-pad), sp.To.Add(pad)
		if n := len(out); n > 0 && !sp.From.After(out[n-1].To) {
			out[n-1].To = sp.To
			continue
		}
		out = append(out, sp)
	}
	return out
}

// DayPartSpan returns a day part's span on a service day, whether or not the shop is open then. A part after midnight belongs to the
// service day before if that day's opening hours run past midnight into it.
func (s Site) DayPartSpan(d Date, p DayPart) Span {
	return localSpan(d, p.From, p.To, s.partOffset(p), s.Location())
}

// PartStart returns the start of a day part in minutes from the service day's midnight; 1440 or more is on the next date.
func (s Site) PartStart(p DayPart) int { return p.From.Minutes() + s.partOffset(p) }

func (s Site) partOffset(p DayPart) int {
	first, lateTo := 1440, 0
	for _, o := range s.Opening {
		if o.Date != nil {
			continue // day parts follow the weekly hours only
		}
		first = min(first, o.From.Minutes())
		if o.To.Minutes() <= o.From.Minutes() {
			lateTo = max(lateTo, o.To.Minutes())
		}
	}
	if p.From.Minutes() < first && p.From.Minutes() < lateTo {
		return 1440
	}
	return 0
}

// ServiceDayOf returns the service day of an instant: the calendar date, or the date before while that day's opening hours or one
// of its day parts after midnight last.
func (s Site) ServiceDayOf(t time.Time) Date {
	d := DateOf(t, s.Location())
	prev := d.AddDays(-1)
	for _, sp := range s.OpenSpans(d) {
		if sp.Contains(t) {
			return d
		}
	}
	for _, sp := range s.OpenSpans(prev) {
		if t.Before(sp.To) {
			return prev
		}
	}
	for _, p := range s.DayParts {
		if sp := s.DayPartSpan(prev, p); sp.Contains(t) && len(s.OpenSpans(prev)) > 0 {
			return prev
		}
	}
	return d
}

// DayEnd returns the end of a service day for planning: the latest of its opening hours plus SetupMin, its day parts, and the
// midnight after it.
func (s Site) DayEnd(d Date) time.Time {
	end := d.At(1440, s.Location())
	for _, sp := range s.StaffSpans(d) {
		if sp.To.After(end) {
			end = sp.To
		}
	}
	for _, p := range s.DayParts {
		if to := s.DayPartSpan(d, p).To; to.After(end) {
			end = to
		}
	}
	return end
}

// On returns the clock span on a date.
func (c ClockSpan) On(d Date, loc *time.Location) Span { return localSpan(d, c.From, c.To, 0, loc) }

func localSpan(d Date, from, to Clock, offset int, loc *time.Location) Span {
	a, b := from.Minutes(), to.Minutes()
	if b <= a {
		b += 1440
	}
	return Span{From: d.At(a+offset, loc), To: d.At(b+offset, loc)}
}

func sortSpans(spans []Span) {
	for i := 1; i < len(spans); i++ {
		for j := i; j > 0 && spans[j].From.Before(spans[j-1].From); j-- {
			spans[j], spans[j-1] = spans[j-1], spans[j]
		}
	}
}
