package calc

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
	"hotday/planner/say"
	"hotday/planner/say/words"
)

// goodBodies is a valid document of each kind, with the fields that the contract requires of the answer.
var goodBodies = []struct{ kind, body, answers string }{
	{"extraction", `{"dose_g":20,"brew_water_g":240}`, "ratio beverage_g tds_pct yield_pct retained_g yield_modelled"},
	{"chill", `{"beverage_g":850,"beverage_temp_c":72,"tds_pct":1.8,"ice_temp_c":-15,"target_temp_c":6}`,
		"ice_g ice_melted_g ice_left_g final_temp_c final_beverage_g final_tds_pct regime"},
	{"ice-split", `{"dose_g":60,"total_water_g":876,"ice_share":0.2,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7}`,
		"brew_water_g ice_g beverage_before_ice_g tds_before_ice_pct yield_pct final_temp_if_iced_at_once_c ice_left_g precool_needed_c share_needed_without_precool final_beverage_g final_tds_pct"},
	{"ice-shares", `{"ratio":14.6,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7,"max_dose_g":200,"max_water_g":3000,"max_beverage_g":4000}`,
		"rows share_needed_without_precool"},
	{"freeze", `{"thickness_mm":40,"geometry":"slab","sides":2,"water_temp_c":20,"air_temp_c":-25,"h_w_m2k":30,"mass_kg":2,"freezer_heat_w":200}`,
		"freeze_min energy_kj_per_kg power_limited_min limit kg_per_day"},
	{"ice-store", `{"ice_g":10000,"ua_w_per_k":2,"air_temp_c":30,"hours":3}`, "melted_g left_g"},
	{"cool-time", `{"mass_g":2000,"temp_c":80,"ambient_temp_c":0,"ua_w_per_k":10,"to_temp_c":34}`, "minutes"},
	{"water", `{"volume_l":20,"start":{"ca_mg_l":80,"mg_mg_l":10,"na_mg_l":12,"k_mg_l":2,"hco3_mg_l":240},"target":{"hardness_mg_l_caco3":85,"alkalinity_mg_l_caco3":40,"mg_share":0.3},"salts":["CaCl2.2H2O","MgSO4.7H2O","NaHCO3"]}`,
		"demineralised_share additions resulting feasible note"},
	{"lsi", `{"ph":7.5,"tds_mg_l":320,"temp_c":25,"ca_hardness_mg_l_caco3":150,"alkalinity_mg_l_caco3":34}`, "ph_s lsi"},
	{"heat-index", `{"temp_c":32.2222,"humidity_pct":70}`, "heat_index_c"},
	{"lot-size", `{"demand":[69,29,36,61,61,26,34,67,45,67,79,56],"setup":[85,102,102,101,98,114,105,86,119,110,98,114],"holding":[1,1,1,1,1,1,1,1,1,1,1,1]}`, "objective setups"},
	{"batches", `{"slot_min":15,"slots":8,"starts_per_slot":1,"store_g":9000,"beverages":[{"name":"a","demand_g":[0,0,0,400,400,0,0,0],"ready_slots":2,"hold_slots":6,"unit_cost_per_kg":10,"disposal_cost_per_kg":5,"short_cost_per_kg":500,"aging_cost_per_kg_h":1,"carry_credit_per_kg":0,"opening":[]}],"brewers":[{"name":"b","available":[[0,8]],"options":[{"beverage":"a","min_g":200,"max_g":2000,"busy_slots":2,"batch_cost":50}]}]}`,
		"objective lower_bound gap_pct starts short_g ice_short_g"},
	{"fit", `{"brews":[{"dose_g":20,"brew_water_g":180,"beverage_g":144.1,"tds_pct":2.36},{"dose_g":20,"brew_water_g":240,"beverage_g":201,"tds_pct":1.79}]}`, "max_yield_pct retained_ratio"},
	{"ratio", `{"target_tds_pct":1.4,"ice_share":0.2}`, "ratio final_tds_pct yield_pct"},
	{"scale", `{"dose_g":20,"total_water_g":292,"ice_share":0.2,"beverage_g":9000,"max_dose_g":200}`, "batches dose_g brew_water_g ice_g"},
	{"glass", `{"beverage_g":200,"beverage_temp_c":7,"tds_pct":1.8,"ice_g":140,"ice_temp_c":-5}`, "first_sip last_sip"},
	{"maker", `{"kg_per_day_rated":100,"air_temp_c":35,"water_temp_c":20}`, "kg_per_day basis"},
}

var english = say.In(words.English)

// answer runs one calculation and reads its JSON back.
func answer(t testing.TB, kind, body string) map[string]any {
	t.Helper()
	v, err := Run(context.Background(), english, kind, []byte(body))
	require.NoError(t, err, "%s %s", kind, body)
	b, err := json.Marshal(v)
	require.NoError(t, err)
	var out map[string]any
	require.NoError(t, json.Unmarshal(b, &out))
	assert.NotRegexp(t, `\{[a-z0-9_]+\}|"(calc|care|warn|said|forecast)\.`, string(b), "every text has its words and its arguments")
	return out
}

func TestAnswersHaveTheRequiredFields(t *testing.T) {
	t.Parallel()
	var kinds []string
	for _, c := range goodBodies {
		kinds = append(kinds, c.kind)
		out := answer(t, c.kind, c.body)
		for _, name := range strings.Fields(c.answers) {
			assert.NotNil(t, out[name], "%s: %s", c.kind, name)
		}
		if c.kind == "batches" || c.kind == "lot-size" {
			continue
		}
		assert.NotEmpty(t, out["say"], "%s says something", c.kind)
		assert.IsType(t, []any{}, out["cautions"], "%s", c.kind)
	}
	slices.Sort(kinds)
	assert.Subset(t, Kinds(), kinds)
	assert.True(t, slices.IsSorted(Kinds()))
}

// Every sentence beside the numbers follows the language, and its numbers too.
func TestSentencesFollowTheLanguage(t *testing.T) {
	t.Parallel()
	german := say.In("de-AT, en;q=0.5")
	for _, c := range goodBodies {
		v, err := Run(context.Background(), german, c.kind, []byte(c.body))
		require.NoError(t, err, c.kind)
		b, err := json.Marshal(v)
		require.NoError(t, err)
		var out map[string]any
		require.NoError(t, json.Unmarshal(b, &out))
		inEnglish := answer(t, c.kind, c.body)
		for _, field := range []string{"say", "cautions"} {
			list, _ := out[field].([]any)
			for i, sentence := range list {
				assert.NotEqual(t, inEnglish[field].([]any)[i], sentence, c.kind)
				assert.NotRegexp(t, `\b(the|of|and|water)\b|(^| )\d+\.\d`, sentence, c.kind)
			}
		}
		for _, field := range []string{"basis", "caffeine_basis"} {
			if out[field] != nil {
				assert.NotEqual(t, inEnglish[field], out[field], c.kind)
			}
		}
	}
	v, err := Run(context.Background(), german, "glass", []byte(`{"beverage_g":200,"beverage_temp_c":7,"tds_pct":1.8,"ice_g":140,"ice_temp_c":-5,"minutes":7.5}`))
	require.NoError(t, err)
	assert.Contains(t, v.(glassOut).Say[0], "7,5\u202fmin", "an input as it was typed")
}

func TestUnknownKindListsTheKinds(t *testing.T) {
	t.Parallel()
	_, err := Run(context.Background(), english, "brew", []byte(`{}`))
	assert.Equal(t, models.CodeNotFound, models.CodeOf(err))
	assert.ErrorContains(t, err, "extraction")
}

func TestBadInputNamesTheField(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ kind, body, pointer string }{
		{"extraction", `{"dose_g":20,"brew_water_g":42}`, "/brew_water_g"},
		{"extraction", `{"dose_g":-1,"brew_water_g":240}`, "/dose_g"},
		{"extraction", `{"dose_g":20,"brew_water_g":240,"beverage_g":300,"tds_pct":1.8}`, "/beverage_g"},
		{"extraction", `{"dose_g":20,"brew_water_g":240,"tds_pct":20}`, "/tds_pct"},
		{"extraction", `{"dose_g":20,"brew_water_g":240,"method":"siphon"}`, "/method"},
		{"extraction", `{"dose_g":20}`, "/brew_water_g"},
		{"extraction", `{"dose_g":"20","brew_water_g":240}`, "/dose_g"},
		{"extraction", `{"dose_g":20,"brew_water_g":240,"dosis_g":1}`, "/dosis_g"},
		{"chill", `{"beverage_g":850,"beverage_temp_c":72,"ice_temp_c":2,"ice_g":300}`, "/ice_temp_c"},
		{"chill", `{"beverage_g":850,"beverage_temp_c":101,"ice_temp_c":-2,"ice_g":300}`, "/beverage_temp_c"},
		{"chill", `{"beverage_g":0,"beverage_temp_c":72,"ice_temp_c":-2,"ice_g":300}`, "/beverage_g"},
		{"chill", `{"beverage_g":850,"beverage_temp_c":72,"ice_temp_c":-2,"ice_g":-300}`, "/ice_g"},
		{"chill", `{"beverage_g":850,"beverage_temp_c":72,"ice_temp_c":-2}`, "/ice_g"},
		{"chill", `{"beverage_g":850,"beverage_temp_c":72,"ice_temp_c":-2,"ice_g":300,"target_temp_c":6}`, "/target_temp_c"},
		{"chill", `{"beverage_g":850,"beverage_temp_c":5,"ice_temp_c":-2,"target_temp_c":6}`, "/target_temp_c"},
		{"chill", `{"beverage_g":850,"beverage_temp_c":50,"ice_temp_c":-2,"target_temp_c":0,"wet_share":1}`, "/wet_share"},
		{"chill", `{"beverage_g":1,"beverage_temp_c":50,"ice_temp_c":-2,"ice_g":1,"heat_gain_j":10000}`, "/heat_gain_j"},
		{"ice-split", `{"dose_g":60,"total_water_g":150,"ice_share":0.2,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7}`, "/total_water_g"},
		{"ice-split", `{"dose_g":60,"total_water_g":876,"ice_share":1,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7}`, "/ice_share"},
		{"ice-split", `{"dose_g":60,"total_water_g":876,"ice_share":0.2,"brewer_out_temp_c":96,"ice_temp_c":-10,"target_temp_c":7,"altitude_m":2250}`, "/brewer_out_temp_c"},
		{"ice-shares", `{"ratio":2,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7}`, "/ratio"},
		{"ice-shares", `{"ratio":0.5,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7}`, "/ratio"},
		{"ice-shares", `{"ratio":14,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7,"max_water_g":0}`, "/max_water_g"},
		{"ice-shares", `{"ratio":14,"brewer_out_temp_c":96,"ice_temp_c":-10,"target_temp_c":7,"altitude_m":2250}`, "/brewer_out_temp_c"},
		{"freeze", `{"thickness_mm":40,"geometry":"cube","water_temp_c":20,"air_temp_c":-25,"h_w_m2k":30,"mass_kg":2}`, "/geometry"},
		{"freeze", `{"thickness_mm":40,"geometry":"slab","sides":3,"water_temp_c":20,"air_temp_c":-25,"h_w_m2k":30,"mass_kg":2}`, "/sides"},
		{"freeze", `{"thickness_mm":40,"geometry":"slab","water_temp_c":20,"air_temp_c":2,"h_w_m2k":30,"mass_kg":2}`, "/air_temp_c"},
		{"freeze", `{"thickness_mm":40,"geometry":"slab","water_temp_c":20,"air_temp_c":-18,"h_w_m2k":30,"mass_kg":2,"final_temp_c":-18}`, "/final_temp_c"},
		{"freeze", `{"thickness_mm":0,"geometry":"slab","water_temp_c":20,"air_temp_c":-18,"h_w_m2k":30,"mass_kg":2}`, "/thickness_mm"},
		{"ice-store", `{"ice_g":-1,"ua_w_per_k":2,"air_temp_c":30,"hours":3}`, "/ice_g"},
		{"cool-time", `{"mass_g":2000,"temp_c":80,"ambient_temp_c":25,"ua_w_per_k":10,"to_temp_c":20}`, "/to_temp_c"},
		{"cool-time", `{"mass_g":2000,"temp_c":30,"ambient_temp_c":5,"ua_w_per_k":10,"to_temp_c":40}`, "/to_temp_c"},
		{"cool-time", `{"mass_g":2000,"temp_c":80,"ambient_temp_c":0,"ua_w_per_k":10,"to_temp_c":10,"bath_ice_g":200,"bath_water_g":500}`, "/bath_ice_g"},
		{"water", `{"volume_l":20,"start":{"ca_mg_l":-8,"mg_mg_l":10,"na_mg_l":12,"k_mg_l":2,"hco3_mg_l":240},"target":{"hardness_mg_l_caco3":85,"alkalinity_mg_l_caco3":40,"mg_share":0.3},"salts":[]}`, "/start/ca_mg_l"},
		{"water", `{"volume_l":20,"start":{"ca_mg_l":8,"mg_mg_l":10,"na_mg_l":12,"k_mg_l":2,"hco3_mg_l":240},"target":{"hardness_mg_l_caco3":85,"alkalinity_mg_l_caco3":40,"mg_share":0.3},"salts":["NaCl"]}`, "/salts/0"},
		{"lsi", `{"ph":15,"tds_mg_l":320,"temp_c":25,"ca_hardness_mg_l_caco3":150,"alkalinity_mg_l_caco3":34}`, "/ph"},
		{"lsi", `{"ph":7,"tds_mg_l":320,"temp_c":25,"ca_hardness_mg_l_caco3":0,"alkalinity_mg_l_caco3":34}`, "/ca_hardness_mg_l_caco3"},
		{"heat-index", `{"temp_c":35,"humidity_pct":120}`, "/humidity_pct"},
		{"fit", `{"brews":[{"dose_g":20,"brew_water_g":180,"beverage_g":144.1,"tds_pct":2.36}]}`, "/brews"},
		{"fit", `{"brews":[{"dose_g":20,"brew_water_g":180,"beverage_g":144.1,"tds_pct":2.36},{"dose_g":20,"brew_water_g":180,"beverage_g":244.1,"tds_pct":2.36}]}`, "/brews/1"},
		{"ratio", `{"target_tds_pct":9,"ice_share":0.4}`, "/target_tds_pct"},
		{"scale", `{"dose_g":20,"total_water_g":292,"ice_share":0.2,"beverage_g":9000,"min_beverage_g":5000,"max_beverage_g":4000}`, "/min_beverage_g"},
		{"maker", `{"air_temp_c":35,"water_temp_c":20}`, "/kg_per_day_rated"},
		{"glass", `{"beverage_g":200,"beverage_temp_c":7,"tds_pct":1.8,"ice_g":140,"ice_temp_c":5}`, "/ice_temp_c"},
	} {
		_, err := Run(context.Background(), english, c.kind, []byte(c.body))
		var e *models.Error
		if !assert.ErrorAs(t, err, &e, "%s %s", c.kind, c.body) {
			continue
		}
		at := slices.IndexFunc(e.Fields, func(f models.FieldError) bool { return f.Pointer == c.pointer })
		if assert.GreaterOrEqual(t, at, 0, "%s %s names %v", c.kind, c.body, e.Fields) {
			assert.NotEmpty(t, e.Fields[at].Detail)
			assert.NotEmpty(t, e.Fields[at].Accepted, "says what would be right")
		}
	}
}

// The file's columns are the calculation's own fields.
func TestChillMatchesTheCheckTable(t *testing.T) {
	t.Parallel()
	f, err := os.Open("../../testdata/checks/chill.csv") // computed with IAPWS-95 and IAPWS-06; see the README beside it
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	for _, row := range rows[1:] {
		in, want := map[string]float64{}, map[string]string{}
		for i, col := range rows[0] {
			if name, ok := strings.CutPrefix(col, "in_"); ok && row[i] != "" {
				in[name], err = strconv.ParseFloat(row[i], 64)
				require.NoError(t, err)
			} else if name, ok := strings.CutPrefix(col, "out_"); ok {
				want[name] = row[i]
			}
		}
		body, err := json.Marshal(in)
		require.NoError(t, err)
		out := answer(t, "chill", string(body))
		assert.Equal(t, want["regime"], out["regime"])
		for name, text := range want {
			if name == "regime" {
				continue
			}
			x, err := strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			allowed := 0.002 * max(math.Abs(x), 1)
			if strings.HasSuffix(name, "_c") {
				allowed = 0.05
			}
			assert.InDelta(t, x, out[name], allowed, "%s %s", body, name)
		}
	}
}

func TestMeasuredBrewsModelNothing(t *testing.T) {
	t.Parallel()
	// Common practice, no source: the two brews, backward.
	out := answer(t, "extraction", `{"dose_g":20,"brew_water_g":240,"beverage_g":201,"tds_pct":1.79}`)
	assert.Equal(t, false, out["yield_modelled"])
	assert.InDelta(t, 18.0, out["yield_pct"], 0.02)
	// Strength alone: M = W/(1 − TDS).
	out = answer(t, "extraction", `{"dose_g":20,"brew_water_g":240,"tds_pct":1.79}`)
	assert.Equal(t, true, out["yield_modelled"])
	assert.InDelta(t, 240/(1-0.0179)-42, out["beverage_g"], 1e-9)
	// Beverage alone: the retained liquid follows.
	out = answer(t, "extraction", `{"dose_g":20,"brew_water_g":240,"beverage_g":201}`)
	assert.InDelta(t, 240+4.36-201, out["retained_g"], 1e-9)
	assert.InDelta(t, 100*4.36/244.36, out["tds_pct"], 1e-9)
}

func TestForwardAndBackwardAgree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := map[string]any{"dose_g": rapid.Float64Range(1, 1000).Draw(t, "dose"), "retained_ratio": rapid.Float64Range(0.5, 3).Draw(t, "kept"),
			"max_yield_pct": rapid.Float64Range(5, 35).Draw(t, "yield")}
		in["brew_water_g"] = in["dose_g"].(float64) * (3.1 + rapid.Float64Range(0, 20).Draw(t, "water"))
		run := func() extractionOut {
			body, _ := json.Marshal(in)
			v, err := Run(context.Background(), english, "extraction", body)
			if err != nil {
				t.Fatalf("%s: %v", body, err)
			}
			return v.(extractionOut)
		}
		forward := run()
		for _, given := range [][]string{{"tds_pct"}, {"beverage_g"}, {"tds_pct", "beverage_g"}} {
			delete(in, "tds_pct")
			delete(in, "beverage_g")
			for _, name := range given {
				in[name] = map[string]float64{"tds_pct": forward.TDSPct, "beverage_g": forward.BeverageG}[name]
			}
			back := run()
			for _, pair := range [][2]float64{{back.YieldPct, forward.YieldPct}, {back.TDSPct, forward.TDSPct}, {back.BeverageG, forward.BeverageG}, {back.RetainedG, forward.RetainedG}} {
				if math.Abs(pair[0]-pair[1]) > 1e-7*(1+math.Abs(pair[1])) {
					t.Fatalf("from %v: %+v, forward %+v", given, back, forward)
				}
			}
		}
	})
}

func TestAGoodAnImpossibleAndAnUnwiseRecipe(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, body, want, caution string }{
		{"good", `{"dose_g":60,"total_water_g":960,"ice_share":0.4,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7,"max_yield_pct":23,"retained_ratio":1.9}`,
			"Stir in 384\u202fg of ice at once: 860\u202fg at 6.5\u202f°C, 1.29% strength.", "scald"},
		{"impossible", `{"dose_g":60,"total_water_g":876,"ice_share":0.2,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7}`,
			"175\u202fg of ice can't cool 588\u202fg from 80\u202f°C to 7\u202f°C: cool to 34\u202f°C first, or stir in 470\u202fg, or make 39% of the water ice. Iced at once, it ends at 42\u202f°C.", ""},
		{"unwise", `{"dose_g":60,"total_water_g":660,"ice_share":0.45,"brewer_out_temp_c":85,"ice_temp_c":-10,"target_temp_c":7}`,
			"Stir in 297\u202fg of ice at once", "outside 1:8–1:17"},
	} {
		out := answer(t, "ice-split", c.body)
		assert.Contains(t, fmt.Sprint(out["say"]), c.want, c.name)
		assert.Contains(t, fmt.Sprint(out["cautions"]), c.caution, c.name)
	}
}

// Every row is what ice-split answers for its share, and the share from which ice alone is enough lies where the temperature crosses the
// target.
func TestIceSharesAgreeWithTheSingleRecipe(t *testing.T) {
	t.Parallel()
	out := answer(t, "ice-shares", `{"ratio":14.6,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7,"max_dose_g":100000,"max_water_g":3000,"max_beverage_g":4000}`)
	rows := out["rows"].([]any)
	require.Len(t, rows, 31)
	enough := out["share_needed_without_precool"].(float64)
	assert.InDelta(t, 0.39, enough, 0.005)
	for _, r := range rows {
		row := r.(map[string]any)
		share := row["ice_share"].(float64)
		one := answer(t, "ice-split", fmt.Sprintf(`{"dose_g":100,"total_water_g":1460,"ice_share":%g,"brewer_out_temp_c":80,"ice_temp_c":-10,"target_temp_c":7}`, share))
		for _, key := range []string{"yield_pct", "final_temp_if_iced_at_once_c", "precool_needed_c"} {
			assert.InDelta(t, one[key], row[key], 1e-6, "%s at %g", key, share)
		}
		brewed, ice := one["beverage_before_ice_g"].(float64), one["ice_g"].(float64)
		assert.InDelta(t, one["tds_before_ice_pct"].(float64)*brewed/(brewed+ice), row["final_tds_pct"], 1e-6, "with all its ice melted")
		assert.Equal(t, share >= enough, row["final_temp_if_iced_at_once_c"].(float64) <= 7.0001, "at %g", share)
		// The brewer holds 3,000 g of brew water: each gram of ice comes on top, up to 4,000 g of beverage.
		perDose := 14.6 + 0.218 - 2.1
		assert.InDelta(t, min(4000, 3000/(14.6*(1-share))*perDose), row["largest_batch_g"], 1e-6)
	}
	assert.Contains(t, fmt.Sprint(out["say"]), "From 39% ice on, it reaches 7\u202f°C without cooling first.")
}

func TestFreezingLimits(t *testing.T) {
	t.Parallel()
	out := answer(t, "freeze", `{"thickness_mm":40,"geometry":"slab","water_temp_c":20,"air_temp_c":-25,"h_w_m2k":30,"mass_kg":2}`)
	assert.Equal(t, "surface", out["limit"])
	assert.InEpsilon(t, 187.8, out["freeze_min"], 0.05, "freeze.csv")
	assert.InDelta(t, 0, out["power_limited_min"], 0, "no power given, no limit from it")
	out = answer(t, "freeze", `{"thickness_mm":40,"geometry":"slab","water_temp_c":20,"air_temp_c":-25,"h_w_m2k":30,"mass_kg":20,"freezer_heat_w":200}`)
	assert.Equal(t, "cooling_power", out["limit"])
	assert.Equal(t, out["power_limited_min"], out["freeze_min"])
	assert.InEpsilon(t, 20*1440/out["freeze_min"].(float64), out["kg_per_day"], 1e-9)
}

func TestUnreachableWaterNamesTheMisses(t *testing.T) {
	t.Parallel()
	start := `"start":{"ca_mg_l":0,"mg_mg_l":0,"na_mg_l":0,"k_mg_l":0,"hco3_mg_l":0},"target":{"hardness_mg_l_caco3":85,"alkalinity_mg_l_caco3":40,"mg_share":0.3}`
	out := answer(t, "water", `{"volume_l":40,`+start+`,"salts":["CaCl2.2H2O"]}`)
	assert.Equal(t, false, out["feasible"])
	assert.Contains(t, out["note"], "magnesium hardness 0.0 instead of 25.5")
	out = answer(t, "water", `{"volume_l":40,`+start+`,"salts":["CaCl2.2H2O","MgSO4.7H2O","KHCO3"],"ice_share":0.4,"mineral_share":0.25}`)
	assert.Equal(t, true, out["feasible"])
	made, drink := out["resulting"].(map[string]any), out["drink_water"].(map[string]any)
	assert.InDelta(t, 85, made["hardness_mg_l_caco3"], 2)
	assert.InDelta(t, made["hardness_mg_l_caco3"].(float64)*0.7, drink["hardness_mg_l_caco3"], 1e-6)
}

func TestSteepedRecipeCarriesItsCaution(t *testing.T) {
	t.Parallel()
	out := answer(t, "extraction", `{"dose_g":100,"brew_water_g":500,"method":"steeped"}`)
	assert.Equal(t, false, out["yield_doubtful"], "the model is made for steeping")
	assert.Contains(t, fmt.Sprint(out["cautions"]), english.Caution(models.CautionSteeping))
	out = answer(t, "extraction", `{"dose_g":100,"brew_water_g":500}`)
	assert.Equal(t, true, out["yield_doubtful"])
}

func TestCaffeineOfAServingStatesItsAssumptions(t *testing.T) {
	t.Parallel()
	out := answer(t, "extraction", `{"dose_g":100,"brew_water_g":600,"serving_g":250}`)
	// 1.2 % of the dose, spread over all the liquid: 1200 mg · 250/(600 + 21.8).
	assert.InDelta(t, 1200*250/621.8, out["caffeine_serving_mg"], 1e-6)
	assert.Contains(t, fmt.Sprint(out["cautions"]), "About 482\u202fmg of caffeine in this serving (estimate")
	out = answer(t, "extraction", `{"dose_g":20,"brew_water_g":300,"serving_g":150}`)
	assert.NotContains(t, fmt.Sprint(out["cautions"]), "in this serving")
}

func TestSlowCoolingIsCautioned(t *testing.T) {
	t.Parallel()
	slow := answer(t, "cool-time", `{"mass_g":8000,"temp_c":90,"ambient_temp_c":15,"ua_w_per_k":2,"to_temp_c":20}`)
	assert.Contains(t, fmt.Sprint(slow["cautions"]), "the cooling rule allows 2.0\u202fh")
	quick := answer(t, "cool-time", `{"mass_g":800,"temp_c":90,"ambient_temp_c":0,"ua_w_per_k":10,"to_temp_c":4}`)
	assert.NotContains(t, fmt.Sprint(quick["cautions"]), "rule")
}

// sane fails unless a calculation answers a document with finite numbers or an error about its input.
func sane(t *testing.T, kind string, body []byte) {
	v, err := Run(context.Background(), english, kind, body)
	if err != nil {
		var e *models.Error
		if !errors.As(err, &e) {
			t.Fatalf("%s: %v is no problem", kind, err)
		}
		if e.Code == models.CodeInternal || e.Error() == "" {
			t.Fatalf("%s: %+v", kind, e)
		}
		return
	}
	b, err := json.Marshal(v) // refuses NaN and infinities
	if err != nil {
		t.Fatalf("%s %s: %v", kind, body, err)
	}
	var out map[string]any
	if err := json.Unmarshal(b, &out); err != nil {
		t.Fatal(err)
	}
	for name, x := range out {
		f, isNumber := x.(float64)
		if isNumber && f < 0 && (strings.HasSuffix(name, "_g") || strings.HasSuffix(name, "_min") || strings.HasSuffix(name, "_pct") || name == "minutes") {
			t.Fatalf("%s %s: %s is %g", kind, body, name, f)
		}
	}
}

func fuzzKind(f *testing.F, kind string) {
	for _, c := range goodBodies {
		if c.kind == kind {
			f.Add([]byte(c.body))
		}
	}
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, body []byte) { sane(t, kind, body) })
}

func FuzzExtraction(f *testing.F) { fuzzKind(f, "extraction") }
func FuzzChill(f *testing.F)      { fuzzKind(f, "chill") }
func FuzzIceSplit(f *testing.F)   { fuzzKind(f, "ice-split") }
func FuzzIceShares(f *testing.F)  { fuzzKind(f, "ice-shares") }
func FuzzFreeze(f *testing.F)     { fuzzKind(f, "freeze") }
func FuzzIceStore(f *testing.F)   { fuzzKind(f, "ice-store") }
func FuzzCoolTime(f *testing.F)   { fuzzKind(f, "cool-time") }
func FuzzWater(f *testing.F)      { fuzzKind(f, "water") }
func FuzzLSI(f *testing.F)        { fuzzKind(f, "lsi") }
func FuzzHeatIndex(f *testing.F)  { fuzzKind(f, "heat-index") }
func FuzzFit(f *testing.F)        { fuzzKind(f, "fit") }
func FuzzRatio(f *testing.F)      { fuzzKind(f, "ratio") }
func FuzzScale(f *testing.F)      { fuzzKind(f, "scale") }
func FuzzGlass(f *testing.F)      { fuzzKind(f, "glass") }
func FuzzMaker(f *testing.F)      { fuzzKind(f, "maker") }
func FuzzLotSize(f *testing.F)    { fuzzKind(f, "lot-size") }
func FuzzBatches(f *testing.F)    { fuzzKind(f, "batches") }

// Random numbers within and beyond the allowed ranges of every field, which byte fuzzing alone rarely reaches.
func TestAnyNumbersGiveNumbersOrAnError(t *testing.T) {
	t.Parallel()
	for _, c := range goodBodies {
		if c.kind == "batches" {
			continue
		}
		t.Run(c.kind, func(t *testing.T) {
			t.Parallel()
			rapid.Check(t, func(rt *rapid.T) {
				var doc any
				_ = json.Unmarshal([]byte(c.body), &doc)
				body, err := json.Marshal(scatter(rt, doc, ""))
				if err != nil {
					rt.Fatal(err)
				}
				sane(t, c.kind, body)
			})
		})
	}
}

// scatter changes the numbers of a document: some stay, some move to an edge, some anywhere.
func scatter(t *rapid.T, doc any, at string) any {
	switch x := doc.(type) {
	case map[string]any:
		for _, k := range slices.Sorted(func(yield func(string) bool) {
			for k := range x {
				if !yield(k) {
					return
				}
			}
		}) {
			x[k] = scatter(t, x[k], at+"/"+k)
		}
	case []any:
		for i := range x {
			x[i] = scatter(t, x[i], fmt.Sprintf("%s/%d", at, i))
		}
	case float64:
		if at == "/sides" {
			return x
		}
		switch rapid.IntRange(0, 3).Draw(t, at+" how") {
		case 0:
			return x
		case 1:
			return x * rapid.Float64Range(0.2, 3).Draw(t, at)
		case 2:
			return rapid.SampledFrom([]float64{0, 1, -1, -0.1, 1e-9, 0.5, 0.95, 100, -40, 1e7, 1e300}).Draw(t, at)
		}
		return rapid.Float64().Draw(t, at)
	}
	return doc
}

func BenchmarkCalc(b *testing.B) {
	for _, c := range goodBodies {
		if c.kind == "batches" {
			continue
		}
		b.Run(c.kind, func(b *testing.B) {
			body := []byte(c.body)
			for b.Loop() {
				if _, err := Run(context.Background(), english, c.kind, body); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func TestCancelledCalculationStops(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile("../../testdata/batches/330-3-3-ice.json")
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = Run(ctx, english, "batches", data)
	require.ErrorIs(t, err, context.Canceled)
}
