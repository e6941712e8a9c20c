package models

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestADayIsAsHotAsItIsSaidToBe(t *testing.T) {
	t.Parallel()
	loc, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	const d = Date("2026-07-11")
	high := func(hours []WeatherHour) (at WeatherHour) {
		at.TempC = -99
		for _, h := range hours {
			if h.TempC > at.TempC {
				at = h
			}
		}
		return at
	}
	unknown := HoursUpTo(nil, d, loc, 34)
	require.Len(t, unknown, 24)
	assert.Equal(t, WeatherHour{At: d.At(15*60, loc), TempC: 34}, high(unknown))
	assert.InDelta(t, 24, unknown[3].TempC, 1e-9, "ten degrees cooler in the night")

	rain := 1.5
	known := []WeatherHour{{At: d.At(-60, loc), TempC: 40}, {At: d.At(600, loc), TempC: 25, RainMM: &rain}, {At: d.At(840, loc), TempC: 30}}
	moved := HoursUpTo(known, d, loc, 34)
	require.Len(t, moved, 2, "the evening before is another day")
	assert.InDelta(t, 34, high(moved).TempC, 1e-9)
	assert.InDelta(t, 29, moved[0].TempC, 1e-9)
	assert.Equal(t, &rain, moved[0].RainMM)
	assert.InDelta(t, 30, known[2].TempC, 0, "the known hours are not changed")
}
