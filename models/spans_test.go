package models

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// hoursOf is the span from one hour to another of a day.
func hoursOf(from, to float64) Span {
	midnight := time.Date(2026, 7, 11, 0, 0, 0, 0, time.UTC)
	return Span{From: midnight.Add(Hours(from)), To: midnight.Add(Hours(to))}
}

func TestSpansAreCut(t *testing.T) {
	t.Parallel()
	day := hoursOf(8, 18)
	assert.Equal(t, []Span{day}, Without(day, nil))
	assert.Equal(t, []Span{day}, Without(day, []Span{hoursOf(18, 20), hoursOf(6, 8)}), "cuts that only touch")
	assert.Equal(t, []Span{hoursOf(8, 10), hoursOf(12, 15), hoursOf(16, 18)}, Without(day, []Span{hoursOf(10, 12), hoursOf(15, 16)}))
	assert.Equal(t, []Span{hoursOf(12, 18)}, Without(day, []Span{hoursOf(6, 12)}))
	assert.Equal(t, []Span{hoursOf(8, 12)}, Without(day, []Span{hoursOf(12, 20)}))
	assert.Empty(t, Without(day, []Span{hoursOf(7, 19)}))
}

func TestSpansAreMergedInOrder(t *testing.T) {
	t.Parallel()
	assert.Equal(t, []Span{hoursOf(8, 12), hoursOf(14, 18)}, Merged([]Span{hoursOf(14, 18), hoursOf(10, 12), hoursOf(8, 10)}), "touching spans are one")
	assert.Equal(t, []Span{hoursOf(8, 18)}, Merged([]Span{hoursOf(8, 18), hoursOf(9, 10)}), "one inside the other")
	assert.Equal(t, []Span{hoursOf(8, 11)}, Merged([]Span{hoursOf(8, 10), hoursOf(9, 11)}))
	assert.Empty(t, Merged(nil))
}

func TestSpansThatOnlyMeetDoNotTouch(t *testing.T) {
	t.Parallel()
	assert.False(t, Touches(nil, hoursOf(8, 9)))
	assert.False(t, Touches([]Span{hoursOf(9, 10)}, hoursOf(8, 9)))
	assert.True(t, Touches([]Span{hoursOf(6, 7), hoursOf(8.5, 10)}, hoursOf(8, 9)))
}

func TestTimeCountsByItsEvents(t *testing.T) {
	t.Parallel()
	event := func(from, to, factor float64, closed bool) Event {
		s := hoursOf(from, to)
		return Event{From: s.From, To: s.To, Factor: factor, Closed: closed}
	}
	for name, tc := range map[string]struct {
		events []Event
		span   Span
		want   float64
	}{
		"no event":                         {nil, hoursOf(8, 10), 120},
		"over before":                      {[]Event{event(6, 8, 3, false)}, hoursOf(8, 10), 120},
		"twice as busy in the last hour":   {[]Event{event(9, 12, 2, false)}, hoursOf(8, 10), 180},
		"half as busy for half an hour":    {[]Event{event(8.5, 9, 0.5, false)}, hoursOf(8, 10), 105},
		"closed for the first hour":        {[]Event{event(7, 9, 1, true)}, hoursOf(8, 10), 60},
		"two events, the factors multiply": {[]Event{event(8, 10, 2, false), event(9, 10, 1.5, false)}, hoursOf(8, 10), 300},
		"closed during a busy event":       {[]Event{event(8, 9, 1, true), event(8, 10, 2, false)}, hoursOf(8, 10), 120},
		"no time":                          {[]Event{event(8, 10, 2, false)}, hoursOf(10, 10), 0},
	} {
		assert.InDelta(t, tc.want, EventMinutes(tc.events, tc.span), 1e-9, name)
	}
	assert.InDelta(t, 6, Sum([]float64{1, 2, 3}), 0)
	assert.Equal(t, 90*time.Minute, Minutes(90))
}
