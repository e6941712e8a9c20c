package demand

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hotday/models"
)

// The reference is the posterior mean of a gamma level after a Poisson count, by quadrature.
func TestDayLevelIsTheGammaPosterior(t *testing.T) {
	t.Parallel()
	const expected, count, sd = 80.0, 110.0, 0.2
	l := NewDayLevel(sd).Observe(expected, count, 1)
	var mass, mean float64
	for x := 0.0005; x < 6; x += 0.001 {
		k := 1 / (sd * sd)
		p := math.Exp((k-1)*math.Log(x) - k*x + count*math.Log(x*expected) - x*expected - (count*math.Log(expected) - expected))
		mass += p
		mean += p * x
	}
	assert.InEpsilon(t, mean/mass, l.Mean(), 1e-6)
	assert.Greater(t, l.Mean(), 1.25)
	assert.Less(t, l.Mean(), 110.0/80)
}

func TestCountsMoveAndNarrowTheRestOfTheDay(t *testing.T) {
	t.Parallel()
	r := FromWord(models.Demand{Expected: 100, P10: new(70.0), P90: new(140.0)}, nil)
	width := r.P90() - r.P10()
	busy := NewDayLevel(0.2).Observe(200, 280, 1).Rest(r, Assumed())
	assert.Greater(t, busy.Mean(), 1.25*r.Mean())
	assert.Less(t, (busy.P90()-busy.P10())/busy.Mean(), width/r.Mean(), "narrower, relative to the mean")
	assert.Equal(t, OverrideRange, busy.Basis())
	assert.Zero(t, NewDayLevel(0.2).Rest(Range{}, Assumed()).P90())
	same := NewDayLevel(0.2)
	assert.Equal(t, same, same.Observe(-1, 3, 1), "invalid arguments are ignored")
}
