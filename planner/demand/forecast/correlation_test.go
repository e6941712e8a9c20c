package forecast

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// togetherErrors are backtests of days of four rows whose counts share a part of their excess variance, correlated from day to day.
func togetherErrors(days int, share, next float64) ([]backtest, [][2]float64) {
	rng := rand.New(rand.NewPCG(8, 8))
	const spread = .06
	var out []backtest
	level := rng.NormFloat64()
	for d := range days {
		level = next*level + math.Sqrt(1-next*next)*rng.NormFloat64()
		for i := range 4 {
			mean := 30.0 * float64(i+1)
			z := math.Sqrt(share)*level + math.Sqrt(1-share)*rng.NormFloat64()
			y := mean + math.Sqrt(spread)*mean*z + math.Sqrt(mean)*rng.NormFloat64()
			out = append(out, backtest{View: predictions{Regression: mean, Boosting: mean}, Series: i, Day: 100 + d, Y: y, Scale: mean})
		}
	}
	return out, [][2]float64{{spread, spread}, {spread, spread}, {spread, spread}, {spread, spread}}
}

func TestHowErrorsGoTogetherIsLearntFromBacktests(t *testing.T) {
	t.Parallel()
	for _, want := range []struct{ day, next float64 }{{.1, 0}, {.8, .5}, {.5, .2}} {
		c := learnTogether(togetherErrors(3000, want.day, want.next))
		require.InDelta(t, want.day, c.Day, .08)
		require.InDelta(t, want.next, c.Next, .1)
		few := learnTogether(togetherErrors(10, want.day, want.next))
		require.InDelta(t, priorDay, few.Day, .2, "a few days say little")
	}
	require.Equal(t, Together{Day: priorDay, Next: priorNext}, learnTogether(nil, nil))
	one, spread := togetherErrors(50, .5, 0)
	var single []backtest
	for _, b := range one {
		if b.Series == 0 {
			single = append(single, b)
		}
	}
	require.Equal(t, priorDay, learnTogether(single, spread).Day, "one row shows nothing of what rows have in common")
}
