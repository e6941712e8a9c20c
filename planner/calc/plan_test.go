package calc

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
)

// The calculations reproduce every batch line of a plan, far beyond the last digit shown.
func TestEveryBatchLineCanBeRecomputed(t *testing.T) {
	t.Parallel()
	for _, file := range []string{"weekend.json", "one-day.json"} {
		r := requestFrom(t, file)
		const wet = 0.05 // of all the ice, so that it is known in each line
		for i := range r.Ice.Makers {
			r.Ice.Makers[i].WetShare = wet
		}
		for i := range r.Ice.Moulds {
			r.Ice.Moulds[i].WetShare = wet
		}
		p, err := planner.ComputeWithoutFixes(context.Background(), r)
		require.NoError(t, err)
		require.NotEmpty(t, p.Batches)
		bevs := map[string]models.Beverage{}
		for _, b := range r.Beverages {
			bevs[b.Code] = b
		}
		for _, b := range p.Batches {
			bev := bevs[b.Beverage]
			name := fmt.Sprintf("%s %s", file, b.ID)
			x := answerTo(t, "extraction", map[string]any{"dose_g": b.DoseG, "brew_water_g": b.BrewWaterG, "retained_ratio": bev.RetainedRatio,
				"max_yield_pct": bev.MaxYieldPct, "method": bev.Method})
			near(t, x["yield_pct"], b.ExpectedYieldPct, name+" yield")
			near(t, x["retained_g"], b.RetainedG, name+" retained")
			near(t, x["dissolved_g"], b.DissolvedG, name+" dissolved")
			near(t, x["beverage_g"].(float64)+b.IceG, b.BeverageG, name+" beverage")

			at := b.BrewerOutTempC
			if b.CoolToBeforeIceC != nil {
				at = *b.CoolToBeforeIceC
			}
			c := answerTo(t, "chill", map[string]any{"beverage_g": x["beverage_g"], "beverage_temp_c": at, "tds_pct": x["tds_pct"],
				"ice_temp_c": b.IceTempC, "ice_g": b.IceG, "wet_share": wet})
			near(t, c["final_temp_c"], b.FinalTempC, name+" final temperature")
			near(t, c["final_tds_pct"], b.ExpectedTDSPct, name+" strength")
			if b.CoolToBeforeIceC == nil || b.IceG == 0 {
				continue
			}
			s := answerTo(t, "ice-split", map[string]any{"dose_g": b.DoseG, "total_water_g": b.BrewWaterG + b.IceG, "ice_share": b.IceG / (b.BrewWaterG + b.IceG),
				"brewer_out_temp_c": b.BrewerOutTempC, "ice_temp_c": b.IceTempC, "target_temp_c": b.FinalTempC,
				"retained_ratio": bev.RetainedRatio, "max_yield_pct": bev.MaxYieldPct, "wet_share": wet})
			// To the half gram that the calculation prints.
			assert.InDelta(t, b.IceG, s["ice_g"], 0.51, name+" ice")
			assert.InDelta(t, b.BrewWaterG, s["brew_water_g"], 0.51, name+" brew water")
			near(t, s["final_tds_pct"], b.ExpectedTDSPct, name+" split strength")
		}
	}
}

func answerTo(t testing.TB, kind string, in map[string]any) map[string]any {
	t.Helper()
	body, err := json.Marshal(in)
	require.NoError(t, err)
	return answer(t, kind, string(body))
}

func near(t testing.TB, got any, want float64, what string) {
	t.Helper()
	assert.InDelta(t, want, got, 1e-6*(1+want), what)
}

// requestFrom reads a request from testdata.
func requestFrom(t *testing.T, file string) models.PlanRequest {
	t.Helper()
	data, err := os.ReadFile("../../testdata/requests/" + file)
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(data, &r))
	require.NoError(t, r.Validate())
	return r
}
