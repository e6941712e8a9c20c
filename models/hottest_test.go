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
	said := d.At(-6*60, loc)
	highs := []WeatherHigh{{Date: d, HighC: 34, SetAt: said}}
	forecast := func(issued time.Time, hour int, c float64) WeatherRow {
		return WeatherRow{Kind: WeatherForecast, IssuedAt: issued, WeatherHour: WeatherHour{At: d.At(hour*60, loc), TempC: c}}
	}
	temps := func(list []WeatherRow) (out []float64) {
		for _, r := range list {
			out = append(out, r.TempC)
		}
		return out
	}

	unknown := WithHighs(nil, highs, loc)
	require.Len(t, unknown, 24)
	assert.InDelta(t, 34, unknown[15].TempC, 1e-9)
	assert.InDelta(t, 24, unknown[3].TempC, 1e-9, "ten degrees cooler in the night")
	assert.True(t, unknown[15].ByHand)
	assert.Equal(t, said, unknown[15].IssuedAt)

	older, newer := said.Add(-time.Hour), said.Add(time.Hour)
	known := []WeatherRow{forecast(older, -1, 40), forecast(older, 10, 25), forecast(newer, 14, 30)}
	moved := WithHighs(known, highs, loc)
	assert.Equal(t, []float64{40, 29, 34}, temps(moved), "the evening before is another day")
	assert.Equal(t, said, moved[1].IssuedAt)
	assert.Equal(t, newer, moved[2].IssuedAt, "the newer forecast gives the hours their shape")
	assert.False(t, moved[0].ByHand)
	assert.InDelta(t, 30, known[2].TempC, 0, "the rows given are not changed")

	seen := forecast(newer, 10, 27)
	seen.Kind = WeatherObserved
	assert.Equal(t, []float64{27, 34}, temps(WithHighs([]WeatherRow{seen, forecast(older, 15, 31)}, highs, loc)), "observed hours stay")
	seen.TempC = 33
	assert.Equal(t, []float64{33, 31}, temps(WithHighs([]WeatherRow{seen, forecast(older, 15, 31)}, highs, loc)), "the hottest hour is over")
	assert.Equal(t, []float64{31}, temps(WithHighs([]WeatherRow{forecast(d.AddDays(1).At(0, loc), 15, 31)}, highs, loc)), "issued after the day")
}
