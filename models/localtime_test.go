package models

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Transitions from the IANA time zone database.
func TestAtNearTransitions(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		zone   string
		date   Date
		minute int
		want   string // UTC
		why    string
	}{
		{"Europe/Berlin", "2026-10-25", 2*60 + 30, "2026-10-25T00:30:00Z", "repeated: the first"},
		{"Europe/Berlin", "2026-10-25", 3 * 60, "2026-10-25T02:00:00Z", "once"},
		{"Europe/Berlin", "2026-10-25", 1*60 + 59, "2026-10-24T23:59:00Z", "once"},
		{"Europe/Berlin", "2026-10-24", 24 * 60, "2026-10-24T22:00:00Z", "the midnight before"},
		{"Europe/Berlin", "2026-10-24", 26*60 + 30, "2026-10-25T00:30:00Z", "counted from the date before"},
		{"Europe/Berlin", "2026-03-29", 2*60 + 30, "2026-03-29T01:30:00Z", "skipped: an hour later"},
		{"Europe/Berlin", "2026-03-29", 2 * 60, "2026-03-29T01:00:00Z", "at the transition"},
		{"America/New_York", "2026-11-01", 1*60 + 30, "2026-11-01T05:30:00Z", "repeated: the first"},
		{"America/New_York", "2026-11-01", 2 * 60, "2026-11-01T07:00:00Z", "once"},
		{"America/New_York", "2026-03-08", 2*60 + 30, "2026-03-08T07:30:00Z", "skipped: an hour later"},
		{"America/New_York", "2026-03-08", 3 * 60, "2026-03-08T07:00:00Z", "once"},
		{"Australia/Lord_Howe", "2026-04-05", 1*60 + 45, "2026-04-04T14:45:00Z", "half an hour is repeated: the first"},
		{"Australia/Lord_Howe", "2026-10-04", 2*60 + 15, "2026-10-03T15:45:00Z", "half an hour is skipped: half an hour later"},
		{"Asia/Kathmandu", "2026-10-25", 2 * 60, "2026-10-24T20:15:00Z", "no transitions"},
	} {
		loc, err := time.LoadLocation(c.zone)
		require.NoError(t, err)
		got := c.date.At(c.minute, loc)
		require.Equal(t, c.want, got.UTC().Format(time.RFC3339), "%s %s + %d min: %s", c.zone, c.date, c.minute, c.why)
		require.Equal(t, loc, got.Location())
	}
}
