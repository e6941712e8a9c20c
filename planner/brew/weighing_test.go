package brew_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/planner/brew"
)

// The steps are those of the kitchen's table: 5 g of coffee from 200 g on, 10 g of water, 50 g above 5 kg, 5 g below 1.5 kg.
func TestStepsOfAKitchen(t *testing.T) {
	t.Parallel()
	const oz = 28.349523125
	grams, fine, coarse, ounces := brew.Weighing{}, brew.Weighing{ScaleG: 0.1}, brew.Weighing{ScaleG: 2}, brew.Weighing{Ounces: true}
	for _, c := range []struct {
		name      string
		steps     []float64
		coarsest  float64
		finest    float64
		ofAmountG float64
	}{
		{"dose below 200 g", grams.DoseSteps(199), 1, 1, 199},
		{"dose from 200 g", grams.DoseSteps(200), 5, 1, 200},
		{"fine scale", fine.DoseSteps(200), 5, 0.1, 200},
		{"coarse scale", coarse.DoseSteps(200), 6, 2, 200},
		{"water below 1.5 kg", grams.WaterSteps(1499), 5, 1, 1499},
		{"water from 1.5 kg", grams.WaterSteps(1500), 10, 1, 1500},
		{"water from 5 kg", grams.WaterSteps(5000), 50, 1, 5000},
		{"dose below 7 oz", ounces.DoseSteps(6.9 * oz), 0.1 * oz, 1, 190},
		{"dose from 7 oz", ounces.DoseSteps(7 * oz), 0.25 * oz, 1, 200},
		{"water from 10 lb", ounces.WaterSteps(160 * oz), 2 * oz, 1, 5000},
		{"water from 3 lb", ounces.WaterSteps(48 * oz), 0.5 * oz, 1, 2000},
		{"water below 3 lb", ounces.WaterSteps(47 * oz), 0.2 * oz, 1, 1000},
	} {
		require.InDelta(t, c.coarsest, c.steps[0], 1e-9, c.name)
		require.GreaterOrEqual(t, c.steps[len(c.steps)-1], c.finest-1e-9, c.name)
	}
	require.Equal(t, []float64{5, 1}, grams.DoseSteps(300), "no step is finer than a scale of 1 g")
	require.Equal(t, []float64{5, 1, 0.5, 0.1}, fine.DoseSteps(300))
	require.Equal(t, []float64{6, 2}, coarse.DoseSteps(300), "steps are multiples of the scale's resolution")
}
