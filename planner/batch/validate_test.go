package batch

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// small is a valid document.
const small = `{"slot_min":15,"slots":4,"starts_per_slot":1,"store_g":5000,
 "beverages":[{"name":"flash","demand_g":[0,200,300,0],"ready_slots":1,"hold_slots":2,"unit_cost_per_kg":2,"disposal_cost_per_kg":0.2,
   "short_cost_per_kg":20,"aging_cost_per_kg_h":0.1,"carry_credit_per_kg":0,"opening":[{"g":100,"expires_slot":2}]}],
 "brewers":[{"name":"one","available":[[0,4]],"options":[{"beverage":"flash","min_g":100,"max_g":900,"busy_slots":1,"batch_cost":1,"ice_per_g":0.3,"ice_slots":1}]}],
 "ice":{"opening_g":500,"capacity_g":900,"make_g":[50,50,50,50],"serve_g":[0,100,100,0],"loss_per_slot":0.01,"short_cost_per_kg":10}}`

func TestParseRoundTrip(t *testing.T) {
	t.Parallel()
	in, err := Parse([]byte(small))
	require.NoError(t, err)
	data, err := json.Marshal(in)
	require.NoError(t, err)
	again, err := Parse(data)
	require.NoError(t, err)
	assert.Equal(t, in, again)
}

func TestParseAppliesDefaults(t *testing.T) {
	t.Parallel()
	in, err := Parse([]byte(`{"slot_min":15,"slots":2,"store_g":100,"beverages":[{"name":"a","demand_g":[1,2],"ready_slots":0,"hold_slots":1,
		"unit_cost_per_kg":1,"short_cost_per_kg":9}],"brewers":[{"name":"b","options":[{"beverage":"a","min_g":0,"max_g":5,"busy_slots":1,"batch_cost":0}]}]}`))
	require.NoError(t, err)
	assert.Equal(t, 1, in.StartsPerSlot)
	assert.Nil(t, in.Ice)
	assert.Nil(t, in.Brewers[0].Available, "left out, a brewer is always available")
}

func TestInvalidFieldsAreNamed(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, from, to string
		code           models.Code
		pointer        string
	}{
		{"unknown field", `"slots":4`, `"slots":4,"slotz":1`, models.CodeMalformed, "/slotz"},
		{"wrong type", `"slots":4`, `"slots":"four"`, models.CodeMalformed, "/slots"},
		{"half a slot", `"ready_slots":1`, `"ready_slots":1.5`, models.CodeMalformed, "/beverages/0/ready_slots"},
		{"missing store", `"store_g":5000,`, ``, models.CodeMalformed, "/store_g"},
		{"no slots", `"slots":4`, `"slots":0`, models.CodeInvalid, "/slots"},
		{"too many slots", `"slots":4`, `"slots":100000`, models.CodeInvalid, "/slots"},
		{"empty slot", `"slot_min":15`, `"slot_min":0`, models.CodeInvalid, "/slot_min"},
		{"negative store", `"store_g":5000`, `"store_g":-1`, models.CodeInvalid, "/store_g"},
		{"min above max", `"min_g":100`, `"min_g":1000`, models.CodeInvalid, "/brewers/0/options/0/min_g"},
		{"empty batch", `"min_g":100,"max_g":900`, `"min_g":0,"max_g":0`, models.CodeInvalid, "/brewers/0/options/0/max_g"},
		{"negative busy", `"busy_slots":1`, `"busy_slots":-1`, models.CodeInvalid, "/brewers/0/options/0/busy_slots"},
		{"negative cost", `"batch_cost":1`, `"batch_cost":-1`, models.CodeInvalid, "/brewers/0/options/0/batch_cost"},
		{"unknown beverage", `"beverage":"flash"`, `"beverage":"flesh"`, models.CodeInvalid, "/brewers/0/options/0/beverage"},
		{"no shelf life", `"hold_slots":2`, `"hold_slots":0`, models.CodeInvalid, "/beverages/0/hold_slots"},
		{"negative ready", `"ready_slots":1`, `"ready_slots":-2`, models.CodeInvalid, "/beverages/0/ready_slots"},
		{"negative demand", `[0,200,300,0]`, `[0,200,-300,0]`, models.CodeInvalid, "/beverages/0/demand_g/2"},
		{"short list", `[0,200,300,0]`, `[0,200,300]`, models.CodeInvalid, "/beverages/0/demand_g"},
		{"huge demand", `[0,200,300,0]`, `[0,200,1e300,0]`, models.CodeInvalid, "/beverages/0/demand_g/2"},
		{"empty window", `[[0,4]]`, `[[2,2]]`, models.CodeInvalid, "/brewers/0/available/0"},
		{"window backwards", `[[0,4]]`, `[[0,1],[3,2]]`, models.CodeInvalid, "/brewers/0/available/1"},
		{"window outside", `[[0,4]]`, `[[0,5]]`, models.CodeInvalid, "/brewers/0/available/0"},
		{"half a window", `[[0,4]]`, `[[0]]`, models.CodeInvalid, "/brewers/0/available/0"},
		{"opening over the store", `"store_g":5000`, `"store_g":99`, models.CodeInvalid, "/beverages/0/opening"},
		{"opening ice over the bin", `"opening_g":500`, `"opening_g":901`, models.CodeInvalid, "/ice/opening_g"},
		{"all melts", `"loss_per_slot":0.01`, `"loss_per_slot":1`, models.CodeInvalid, "/ice/loss_per_slot"},
		{"gains", `"loss_per_slot":0.01`, `"loss_per_slot":-0.01`, models.CodeInvalid, "/ice/loss_per_slot"},
		{"ice list", `[50,50,50,50]`, `[50,50,50,50,50]`, models.CodeInvalid, "/ice/make_g"},
		{"no name", `"name":"one"`, `"name":""`, models.CodeInvalid, "/brewers/0/name"},
		{"negative attention", `"starts_per_slot":1`, `"starts_per_slot":-1`, models.CodeInvalid, "/starts_per_slot"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			require.Contains(t, small, c.from)
			_, err := Parse([]byte(strings.Replace(small, c.from, c.to, 1)))
			var own *models.Error
			require.ErrorAs(t, err, &own)
			assert.Equal(t, c.code, own.Code)
			var pointers []string
			for _, f := range own.Fields {
				pointers = append(pointers, f.Pointer)
				assert.NotEmpty(t, f.Detail)
				assert.NotEmpty(t, f.Accepted, "%s has no accepted values", f.Pointer)
			}
			assert.Contains(t, pointers, c.pointer)
		})
	}
}

func TestDuplicateNamesAreRejected(t *testing.T) {
	t.Parallel()
	in, err := Parse([]byte(small))
	require.NoError(t, err)
	in.Beverages = append(in.Beverages, in.Beverages[0])
	in.Beverages[1].Opening = nil
	require.ErrorContains(t, in.Validate(), "/beverages/1/name")
	in.Beverages[1].Name = "other"
	in.Brewers = append(in.Brewers, in.Brewers[0])
	require.ErrorContains(t, in.Validate(), "/brewers/1/name")
	in.Brewers[1].Name = "two"
	in.Brewers[0].Options = append(in.Brewers[0].Options, in.Brewers[0].Options[0])
	require.ErrorContains(t, in.Validate(), "/brewers/0/options/1/beverage")
}

func TestNonFiniteNumbersAreRejected(t *testing.T) {
	t.Parallel()
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		in, err := Parse([]byte(small))
		require.NoError(t, err)
		in.Beverages[0].ShortPerKg = x
		require.ErrorContains(t, in.Validate(), "/beverages/0/short_cost_per_kg")
		_, err = Solve(t.Context(), in, Options{})
		require.Error(t, err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(small))
	rng := rand.New(rand.NewPCG(1, 1))
	for range 5 {
		data, _ := json.Marshal(tiny(rng))
		f.Add(data)
	}
	f.Add([]byte(`{"slots":1e9}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		in, err := Parse(data)
		if err != nil {
			return
		}
		r, err := Solve(t.Context(), in, Options{Budget: 2000})
		if err != nil {
			t.Fatal(err)
		}
		if err := verify(in, r); err != nil {
			t.Fatal(err)
		}
	})
}
