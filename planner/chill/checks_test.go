package chill

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// table reads a file of testdata/checks (its README names the source) as rows by column name.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../../testdata/checks/" + name)
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, rec := range all[1:] {
		row := map[string]string{}
		for i, col := range all[0] {
			row[col] = rec[i]
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	if s == "" {
		return 0
	}
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}

func TestEnthalpiesMatchIAPWS(t *testing.T) {
	t.Parallel()
	worst := 0.0
	for _, row := range table(t, "enthalpy.csv") {
		temp, want := number(t, row["temp_c"]), number(t, row["enthalpy_kj_per_kg"])
		got := WaterEnthalpy(temp)
		if row["phase"] == "ice" {
			got = IceEnthalpy(temp)
		}
		worst = max(worst, math.Abs(got-want))
		assert.InDelta(t, want, got, 0.01, "%s at %g °C", row["phase"], temp)
	}
	t.Logf("largest error %.4f kJ/kg", worst)
}

func TestMixesMatchTheTable(t *testing.T) {
	t.Parallel()
	var worstC, worstG float64
	for i, row := range table(t, "chill.csv") {
		m := Mix{BeverageG: number(t, row["in_beverage_g"]), BeverageC: number(t, row["in_beverage_temp_c"]),
			TDSPct: number(t, row["in_tds_pct"]), IceC: number(t, row["in_ice_temp_c"]), IceG: number(t, row["in_ice_g"]),
			VesselJPerK: number(t, row["in_vessel_j_per_k"]), VesselC: number(t, row["in_vessel_temp_c"]),
			HeatGainJ: number(t, row["in_heat_gain_j"])}
		if row["in_target_temp_c"] != "" {
			ice, ok := m.IceFor(number(t, row["in_target_temp_c"]))
			require.True(t, ok)
			m.IceG = ice
		}
		s := m.Settle()
		assert.Equal(t, row["out_regime"], string(s.Regime), "row %d", i)
		for _, pair := range []struct {
			got  float64
			want string
		}{{m.IceG, "out_ice_g"}, {s.IceMeltedG, "out_ice_melted_g"}, {s.FinalG, "out_final_beverage_g"}} {
			want := number(t, row[pair.want])
			worstG = max(worstG, math.Abs(pair.got/want-1))
			assert.InEpsilon(t, want, pair.got, 0.002, "row %d %s", i, pair.want)
		}
		assert.InDelta(t, number(t, row["out_ice_left_g"]), s.IceLeftG, 0.002*m.IceG)
		worstC = max(worstC, math.Abs(s.FinalC-number(t, row["out_final_temp_c"])))
		assert.InDelta(t, number(t, row["out_final_temp_c"]), s.FinalC, 0.05, "row %d", i)
		assert.InDelta(t, number(t, row["out_final_tds_pct"]), s.FinalTDSPct, 0.0005, "row %d", i)
	}
	t.Logf("largest error %.4f °C, %.5f %% of mass", worstC, 100*worstG)
}

func TestMixesMatchWorkedExamples(t *testing.T) {
	t.Parallel()
	// Computed with IAPWS-95 and IAPWS-06.
	brew := Mix{BeverageG: 850, BeverageC: 72, IceC: -15}
	ice, ok := brew.IceFor(6)
	require.True(t, ok)
	assert.InEpsilon(t, 603.0, ice, 0.002)

	brew.IceG = 300
	pre, ok := brew.PrecoolFor(6)
	require.True(t, ok)
	assert.InDelta(t, 38.8, pre, 0.05)

	// OpenStax College Physics, worked example of three ice cubes in a soda, from memory.
	cubes := Mix{BeverageG: 250, BeverageC: 20, IceG: 18, IceC: 0}
	assert.InDelta(t, 13, cubes.Settle().FinalC, 0.5)
}

// chill-wet.csv: IAPWS-95 and IAPWS-06, by the script beside it.
func TestWetIceTargetsAndPrecoolingMatchIAPWS(t *testing.T) {
	t.Parallel()
	var worstC, worstG float64
	for i, row := range table(t, "chill-wet.csv") {
		m := Mix{BeverageG: number(t, row["beverage_g"]), BeverageC: number(t, row["beverage_temp_c"]), IceC: number(t, row["ice_temp_c"]),
			IceG: number(t, row["ice_g"]), WetShare: number(t, row["wet_share"]), VesselJPerK: number(t, row["vessel_j_per_k"]),
			VesselC: number(t, row["vessel_temp_c"]), HeatGainJ: number(t, row["heat_gain_j"])}
		target := number(t, row["target_temp_c"])
		ice, ok := m.IceFor(target)
		require.True(t, ok)
		pre, ok := m.PrecoolFor(target)
		require.True(t, ok)
		final := m.Settle().FinalC
		worstC = max(worstC, math.Abs(final-number(t, row["final_temp_c"])), math.Abs(pre-number(t, row["precool_c"])))
		worstG = max(worstG, math.Abs(ice/number(t, row["ice_for_target_g"])-1))
		assert.InDelta(t, number(t, row["final_temp_c"]), final, 0.05, "row %d", i)
		assert.InDelta(t, number(t, row["precool_c"]), pre, 0.05, "row %d", i)
		assert.InEpsilon(t, number(t, row["ice_for_target_g"]), ice, 0.002, "row %d", i)
	}
	t.Logf("largest error %.4f °C, %.4f %% of ice", worstC, 100*worstG)
}
