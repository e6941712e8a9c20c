package models

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestShiftsOfADateOverrideThoseOfItsWeekday(t *testing.T) {
	t.Parallel()
	saturday := Date("2026-07-11")
	s := Site{Timezone: "Europe/Vienna", People: []OnShift{
		{Weekday: "sat", From: "07:00", To: "15:00", OnShift: 1}, {Weekday: "sat", From: "13:00", To: "01:00", OnShift: 2}, {Date: &saturday, From: "09:00", To: "10:00", OnShift: 4},
	}}
	require.Len(t, s.Shifts(saturday), 1)
	s.People = s.People[:2]
	shifts := s.Shifts(saturday)
	for hour, want := range map[int]float64{6: 0, 7: 1, 14: 3, 15: 2, 24: 2, 25: 0} {
		require.InDelta(t, want, OnShiftAt(shifts, saturday.At(60*hour, s.Location()).Add(time.Second)), 0, "%d:00", hour)
	}
	require.Empty(t, s.Shifts(saturday.AddDays(1)))
}
