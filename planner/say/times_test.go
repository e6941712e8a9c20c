package say_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestTimesFollowTheClockAndDateOrderOfTheSite(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 7, 11, 19, 45, 0, 0, time.UTC)
	hour := at.Truncate(time.Hour)
	m, c := metric(), customary()
	for _, x := range []struct{ got, want string }{
		{m.Clock(at), "21:45"},
		{c.Clock(at), "2:45\u202fpm"},
		{m.Day(at), "Saturday 11 July"},
		{c.Day(at), "Saturday, July 11"},
		{c.DayYear(at), "Saturday, July 11, 2026"},
		{m.DayName("2026-07-11"), "Saturday"},
		{m.ShortDay("2026-07-11"), "Sat"},
		{m.ShortDate(at), "11 Jul"},
		{c.ShortDate(at), "Jul 11"},
		{c.At(at), "Saturday 2:45\u202fpm"},
		{m.ShortAt(at), "Sat\u00a021:45"},
		{m.Moment(at, at.Add(-time.Hour)), "21:45"},
		{m.Moment(at, at.Add(-22*time.Hour)), "Sat\u00a021:45"},
		{m.Near(at, at.AddDate(0, 0, -9)), "Saturday 11 July 21:45"},
		{m.Near(at, at.AddDate(0, 0, -2)), "Saturday 21:45"},
		{c.Hour(hour), "2\u202fpm"},
		{m.Hour(hour), "21"},
		{m.FullHour(hour), "21:00"},
		{c.Clock(time.Date(2026, 7, 11, 5, 0, 0, 0, time.UTC)), "12:00\u202fam"},
		{c.SetClock("07:00"), "7:00\u202fam"},
		{c.SetClock("12:00"), "12:00\u202fpm"},
		{c.SetClock("24:00"), "12:00\u202fam"},
		{c.SetClock("noon"), "noon"},
		{m.SetClock("24:00"), "24:00"},
		{m.Span(72 * time.Hour), "3 days"},
		{m.Span(200 * time.Minute), "3\u202fh 20\u202fmin"},
		{m.Minutes(45), "45\u202fmin"},
		{m.Minutes(120), "2\u202fh"},
		{m.Minutes(math.Inf(1)), "too long to say"},
	} {
		assert.Equal(t, x.want, x.got)
	}
}
