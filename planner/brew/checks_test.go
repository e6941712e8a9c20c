package brew

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestBrewsMatchCommonPractice(t *testing.T) {
	t.Parallel()
	// Common practice, no source.
	for _, c := range []struct{ dose, water, beverage, tds, yield float64 }{
		{20, 180, 144.1, 2.36, 17.0},
		{20, 240, 201, 1.79, 18.0},
	} {
		x, err := Extract(c.dose, c.water, defaultRetainedRatio, defaultMaxYieldPct)
		require.NoError(t, err)
		t.Logf("%g g in %g g: %.1f g at %.2f %%, yield %.1f %%", c.dose, c.water, x.BeverageG, x.TDSPct, x.YieldPct)
		assert.InDelta(t, c.beverage, x.BeverageG, 3)
		assert.InDelta(t, c.tds, x.TDSPct, 0.03)
		assert.InDelta(t, c.yield, x.YieldPct, 0.3)
	}
}

func TestSmallIceShareDoesNotChillAHotBrew(t *testing.T) {
	t.Parallel()
	// Computed with IAPWS: 1:14.6, 80 parts brew water, 20 parts ice at −10 °C, 80 °C out of the brewer, target 7 °C.
	r := Recipe{Ratio: 14.6, IceShare: 0.2, RetainedRatio: defaultRetainedRatio, MaxYieldPct: defaultMaxYieldPct}
	s, err := r.SplitIce(60, 80, -10, 0, 7)
	require.NoError(t, err)
	assert.InDelta(t, 42, s.AtOnce.FinalC, 0.5)
	assert.InDelta(t, 34, s.PrecoolC, 0.6)
	assert.InDelta(t, 0.39, s.ShareNeeded, 0.005)
	assert.InDelta(t, 7, s.AfterPrecool.FinalC, 1e-6)
	t.Logf("without pre-cooling %.2f °C, pre-cool to %.2f °C, share %.4f", s.AtOnce.FinalC, s.PrecoolC, s.ShareNeeded)
}
