package salesfile

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// In Berlin, clocks go from 02:00 to 03:00 on 2026-03-29 (01:00 UTC) and from 03:00 back to 02:00 on 2026-10-25 (01:00 UTC).
func TestRepeatedHour(t *testing.T) {
	t.Parallel()
	f := readCSV(t, `item,start,end,count
A,2026-10-25 01:45,2026-10-25 02:00,1
A,2026-10-25 02:00,2026-10-25 02:15,2
A,2026-10-25 02:45,2026-10-25 03:00,3
A,2026-10-25 02:00,2026-10-25 02:15,4
B,2026-10-25 02:00,2026-10-25 02:15,5
A,2026-10-25,2026-10-26,50
A,2026-10-25 01:30,2026-10-25 03:30,9
A,2026-10-25 02:45,2026-10-25 02:00,6
A,2026-10-25 02:00,2026-10-25 03:00,7
`)
	require.Empty(t, f.Errors)
	require.Equal(t, []string{
		"2 A 10-24T23:45:00 10-25T00:00:00 1", // as long as the local times differ
		"3 A 10-25T00:00:00 10-25T00:15:00 2", // the first of two occurrences
		"4 A 10-25T01:45:00 10-25T02:00:00 3", // the only pair of a quarter of an hour
		"5 A 10-25T01:00:00 10-25T01:15:00 4", // the same window again: the second occurrence
		"6 B 10-25T00:00:00 10-25T00:15:00 5",
		"7 A 10-24T22:00:00 10-25T23:00:00 50", // 25 hours
		"8 A 10-24T23:30:00 10-25T02:30:00 9",  // three hours, unambiguous
		"9 A 10-25T00:45:00 10-25T01:00:00 6",  // the clock goes back in between
		"10 A 10-25T01:00:00 10-25T02:00:00 7", // an hour, as the local times differ
	}, format(f))
	require.Equal(t, []string{"7 rows in the hour repeated by the clock change in Europe/Berlin: read as the first occurrence, and as the second if the same window is repeated. Use times with an offset to be exact."}, f.Notes)
}

func TestSkippedHour(t *testing.T) {
	t.Parallel()
	f := readCSV(t, `item,start,end,count
A,2026-03-29 01:30,2026-03-29 02:30,1
A,2026-03-29 02:30,2026-03-29 03:30,2
A,2026-03-29 02:00,2026-03-29 03:00,0
A,2026-03-29,2026-03-30,30
`)
	require.Empty(t, f.Errors)
	require.Equal(t, []string{"2 A 03-29T00:30:00 03-29T01:00:00 1", "3 A 03-29T01:00:00 03-29T01:30:00 2", "5 A 03-28T23:00:00 03-29T22:00:00 30"}, format(f))
	require.Equal(t, []string{"2 rows with a time skipped by the clock change in Europe/Berlin: moved to the moment of the change.",
		"1 row with count 0 entirely in the hour skipped by the clock change in Europe/Berlin: left out."}, f.Notes)
	f = readCSV(t, "item,start,end,count\nA,2026-03-29 02:15,2026-03-29 02:30,4\n")
	require.Len(t, f.Errors, 1)
	require.Equal(t, "start", f.Errors[0].Column)
	require.Contains(t, f.Errors[0].Detail, "the time from 2026-03-29 02:15 to 2026-03-29 02:30 is skipped")
}

func TestInstantsRoundTrip(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"UTC", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns", "Africa/Casablanca", "Pacific/Apia"} {
		loc := zone(t, name)
		for at := time.Date(2026, 1, 1, 0, 7, 0, 0, time.UTC); at.Year() < 2027; at = at.Add(67 * time.Minute) {
			local := at.In(loc)
			w := localTime{t: time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), 0, 0, time.UTC)}
			got, skipped := w.instants(loc)
			if skipped {
				require.Fail(t, "a real time is not skipped", "%s: %v", name, at)
			}
			found := false
			for i, g := range got {
				found = found || g.Equal(at)
				if g.In(loc).Format(time.DateTime) != w.t.Format(time.DateTime) || i > 0 && !g.After(got[0]) {
					require.Fail(t, "a wrong local time, or not in order", "%s: %v of %v", name, g, got)
				}
			}
			if !found {
				require.Fail(t, "an instant is missing", "%s: %v among %v", name, at, got)
			}
		}
	}
}
