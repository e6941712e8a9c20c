package facts

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestCountedIceIsCarriedOn(t *testing.T) {
	t.Parallel()
	from := time.Date(2026, 7, 11, 8, 0, 0, 0, time.UTC)
	at := func(h float64) time.Time { return from.Add(time.Duration(h * float64(time.Hour))) }
	keep := math.Pow(0.99, 0.25) // 1 % an hour
	maker := func(time.Time) float64 { return 1000 }

	assert.InDelta(t, 10_000, carried(10_000, 30_000, 1, from, at(3), nil, nil), 1e-9)
	assert.InDelta(t, 10_000*math.Pow(0.99, 3.1), carried(10_000, 30_000, keep, from, at(3.1), nil, nil), 1e-6, "it melts, part of a step too")
	assert.InDelta(t, 13_000, carried(10_000, 30_000, 1, from, at(3), nil, maker), 1e-6)
	assert.InDelta(t, 12_000, carried(10_000, 12_000, 1, from, at(3), nil, maker), 1e-6, "a full bin stops its maker")
	moves := []moved{{at(2), -4000}, {from, -9999}, {at(1), 500}, {at(9), -9999}}
	assert.InDelta(t, 9500, carried(10_000, 30_000, 1, from, at(3), moves, maker), 1e-6, "what went before the count was counted; what goes later has not gone")
	assert.InDelta(t, 1000, carried(1000, 30_000, 1, from, at(3), moves, maker), 1e-6, "nothing below nothing: the last hour's making is there")
}
