package models

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Shape of a day whose weather nobody has forecast: hottest in the afternoon, coolest twelve hours before (common practice, no source).
const (
	hottestHour = 15
	dailyRangeC = 10.0
)

// WeatherHigh is the highest temperature of a date that a manager expects. It comes before every forecast issued until the date is over.
type WeatherHigh struct {
	Date  Date      `json:"date"`
	HighC float64   `json:"high_c" validate:"gte=-60,lte=60"`
	SetAt time.Time `json:"set_at"`
}

// coldestC is the lowest temperature that an hour can have, °C: that of WeatherHour.
const coldestC = -60

// WithHighs returns rows, which cover the dates of highs, with each date's hottest hour at its high: the date's forecast hours are moved
// by as much as they differ, except those issued after the date was over. A date whose hottest hour has been observed stays as it was; one
// without rows gets the hours of a usual summer day. What a high has changed says so in ByHand and is of the time at which it was entered,
// unless the forecast is newer.
func WithHighs(rows []WeatherRow, highs []WeatherHigh, loc *time.Location) []WeatherRow {
	out := slices.Clone(rows)
	for _, h := range highs {
		over := h.Date.AddDays(1).At(0, loc)
		peak, found := -1, false
		for i := range rows {
			if DateOf(rows[i].At, loc) != h.Date {
				continue
			}
			if found = true; peak < 0 || rows[i].TempC > rows[peak].TempC {
				peak = i
			}
		}
		moves := func(r *WeatherRow) bool { return r.Kind == WeatherForecast && r.IssuedAt.Before(over) }
		switch {
		case !found:
			out = append(out, usualHours(h, loc)...)
		case moves(&rows[peak]):
			for i := range out {
				if r := &out[i]; DateOf(r.At, loc) == h.Date && moves(r) {
					r.TempC = max(coldestC, r.TempC+h.HighC-rows[peak].TempC)
					r.ByHand = true
					if h.SetAt.After(r.IssuedAt) {
						r.IssuedAt = h.SetAt
					}
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b WeatherRow) int { return cmp.Compare(a.At.UnixMilli(), b.At.UnixMilli()) })
	return out
}

// usualHours are the hours of a usual summer day with a high.
func usualHours(high WeatherHigh, loc *time.Location) (out []WeatherRow) {
	for h := range 24 {
		below := dailyRangeC / 2 * (1 - math.Cos(2*math.Pi*float64(h-hottestHour)/24))
		out = append(out, WeatherRow{Kind: WeatherForecast, IssuedAt: high.SetAt, ByHand: true,
			WeatherHour: WeatherHour{At: high.Date.At(h*60, loc).UTC(), TempC: max(coldestC, high.HighC-below)}})
	}
	return out
}
