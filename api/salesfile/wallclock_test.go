package salesfile

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// In Berlin clocks go from 02:00 to 03:00 on 2026-03-29 (01:00 UTC) and from 03:00 back to 02:00 on 2026-10-25 (01:00 UTC).
func TestARepeatedHourIsReadTwice(t *testing.T) {
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
	require.Empty(t, f.Faults)
	require.Equal(t, []string{
		"2 A 10-24T23:45:00 10-25T00:00:00 1", // as long as the clock says
		"3 A 10-25T00:00:00 10-25T00:15:00 2", // the first of two
		"4 A 10-25T01:45:00 10-25T02:00:00 3", // only so a quarter long
		"5 A 10-25T01:00:00 10-25T01:15:00 4", // the same again: the second
		"6 B 10-25T00:00:00 10-25T00:15:00 5",
		"7 A 10-24T22:00:00 10-25T23:00:00 50", // 25 hours
		"8 A 10-24T23:30:00 10-25T02:30:00 9",  // three hours, no doubt in it
		"9 A 10-25T00:45:00 10-25T01:00:00 6",  // the clock went back meanwhile
		"10 A 10-25T01:00:00 10-25T02:00:00 7", // an hour, as the clock says
	}, said(f))
	require.Equal(t, []string{"In an hour that the clock of Europe/Berlin shows twice: 7 rows. The first of the two is meant, and the second where a row says the same window again. Times with an offset leave no doubt."}, f.Notes)
}

func TestASkippedHourIsTheMomentOfTheChange(t *testing.T) {
	t.Parallel()
	f := readCSV(t, `item,start,end,count
A,2026-03-29 01:30,2026-03-29 02:30,1
A,2026-03-29 02:30,2026-03-29 03:30,2
A,2026-03-29 02:00,2026-03-29 03:00,0
A,2026-03-29,2026-03-30,30
`)
	require.Empty(t, f.Faults)
	require.Equal(t, []string{"2 A 03-29T00:30:00 03-29T01:00:00 1", "3 A 03-29T01:00:00 03-29T01:30:00 2", "5 A 03-28T23:00:00 03-29T22:00:00 30"}, said(f))
	require.Equal(t, []string{"With a time that the clock of Europe/Berlin skips: 2 rows. The moment of the change is taken for it.",
		"Wholly in an hour that the clock of Europe/Berlin skips, and counting nothing: 1 row. Left out."}, f.Notes)
	f = readCSV(t, "item,start,end,count\nA,2026-03-29 02:15,2026-03-29 02:30,4\n")
	require.Len(t, f.Faults, 1)
	require.Equal(t, "start", f.Faults[0].Column)
	require.Contains(t, f.Faults[0].Detail, "skips the time from 2026-03-29 02:15")
}

func TestInstantsAreThoseAtWhichTheClockShowsTheTime(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"UTC", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns", "Africa/Casablanca", "Pacific/Apia"} {
		loc := zone(t, name)
		for at := time.Date(2026, 1, 1, 0, 7, 0, 0, time.UTC); at.Year() < 2027; at = at.Add(67 * time.Minute) {
			local := at.In(loc)
			w := wall{t: time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), local.Minute(), 0, 0, time.UTC)}
			got, skipped := w.instants(loc)
			if skipped {
				require.Fail(t, "what the clock has shown is not skipped", "%s: %v", name, at)
			}
			found := false
			for i, g := range got {
				found = found || g.Equal(at)
				if g.In(loc).Format(time.DateTime) != w.t.Format(time.DateTime) || i > 0 && !g.After(got[0]) {
					require.Fail(t, "not what the clock shows, or not in order", "%s: %v of %v", name, g, got)
				}
			}
			if !found {
				require.Fail(t, "an instant is missing", "%s: %v among %v", name, at, got)
			}
		}
	}
}
