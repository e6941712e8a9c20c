package web

import (
	"encoding/json"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func request(t *testing.T) models.PlanRequest {
	t.Helper()
	b, err := os.ReadFile("../../testdata/requests/one-day.json")
	require.NoError(t, err)
	var r models.PlanRequest
	require.NoError(t, models.DecodeStrict(b, &r))
	return r
}

func requests(t *testing.T, change string) ([]apiRequest, string) {
	t.Helper()
	before := request(t)
	after, err := applyPatch(before, json.RawMessage(change))
	require.NoError(t, err)
	out, lasting, err := requestsFor(before.Setup, `"3"`, before, after, json.RawMessage(change), time.Date(2026, 7, 10, 12, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	return out, lasting
}

func TestSetupFixReplacesTheSetupWithItsETag(t *testing.T) {
	t.Parallel()
	out, lasting := requests(t, `{"ice":{"bin_g":30000}}`)
	require.Len(t, out, 1)
	assert.Equal(t, "PUT /v1/sites/lido/setup", out[0].Method+" "+out[0].Path)
	assert.Equal(t, `"3"`, out[0].Match)
	var setup models.Setup
	require.NoError(t, models.DecodeStrict(out[0].Body, &setup))
	assert.InDelta(t, 30000, setup.Ice.BinG, 0)
	assert.InDelta(t, 9000, setup.Ice.OpeningG, 0, "the opening stock is unchanged")
	assert.Contains(t, lasting, "settings")
}

func TestBoughtIceFixAddsStockAndEnlargesTheBin(t *testing.T) {
	t.Parallel()
	out, lasting := requests(t, `{"ice":{"opening_g":14000,"bin_g":25000}}`)
	require.Len(t, out, 2)
	assert.Equal(t, "POST /v1/sites/lido/stock-changes", out[0].Method+" "+out[0].Path)
	assert.JSONEq(t, `{"rows":[{"kind":"bought_in","ice_g":5000,"at":"2026-07-10T12:00:00Z","reason":"bought in to have enough"}]}`, string(out[0].Body))
	var setup models.Setup
	require.NoError(t, models.DecodeStrict(out[1].Body, &setup))
	assert.InDelta(t, 25000, setup.Ice.BinG, 0)
	assert.InDelta(t, 9000, setup.Ice.OpeningG, 0)
	assert.Contains(t, lasting, "bought")
}

func TestDemandFixSendsOnlyChangedRows(t *testing.T) {
	t.Parallel()
	r := request(t)
	r.Demand[1].Expected = 20
	rows, err := json.Marshal(map[string]any{"demand": r.Demand})
	require.NoError(t, err)
	out, _ := requests(t, string(rows))
	require.Len(t, out, 1)
	assert.Equal(t, "PUT /v1/sites/lido/expected-demand", out[0].Method+" "+out[0].Path)
	var body struct{ Rows []models.ExpectedDemand }
	require.NoError(t, json.Unmarshal(out[0].Body, &body))
	require.Len(t, body.Rows, 1)
	assert.Equal(t, "midday", body.Rows[0].DayPart)
	assert.InDelta(t, 20, *body.Rows[0].Expected, 0)
}

func TestWeatherFixCannotBeApplied(t *testing.T) {
	t.Parallel()
	out, _ := requests(t, `{"weather":[]}`)
	assert.Empty(t, out)
}

func TestInvalidPatchIsRefused(t *testing.T) {
	t.Parallel()
	_, err := applyPatch(request(t), json.RawMessage(`{"ice":{"no_such_field":1}}`))
	assert.Equal(t, models.CodeMalformed, models.CodeOf(err))
}
