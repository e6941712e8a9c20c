package api_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestSetupNeedsTheCurrentETag(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	const path = "/v1/sites/quay/setup"
	b.get(path).is(404).problem()
	b.do(call{method: "PUT", path: path, body: shop("quay"), header: map[string]string{"If-Match": `"x"`}}).is(412)
	made := b.put(path, shop("quay")).is(201)
	require.Equal(t, path, made.header.Get("Location"))
	first := made.header.Get("ETag")
	require.True(t, strings.HasPrefix(first, `"`), "an entity tag is quoted: %s", first)

	read := b.get(path).is(200)
	require.Equal(t, first, read.header.Get("ETag"))
	var setup models.Setup
	read.into(&setup)
	require.InDelta(t, 2.1, setup.Beverages[0].RetainedRatio, 0, "defaults are filled in")
	seen := b.do(call{method: "GET", path: path, header: map[string]string{"If-None-Match": first}}).is(304)
	require.Empty(t, seen.body)
	require.Equal(t, first, seen.header.Get("ETag"))

	changed := edit(shop("quay"), 55, "site", "altitude_m")
	b.put(path, changed).is(428).problem()
	b.do(call{method: "PUT", path: path, body: changed, header: map[string]string{"If-Match": `"old"`}}).is(412).problem()
	b.do(call{method: "PUT", path: path, body: changed, header: map[string]string{"If-Match": "W/" + first}}).is(412)
	b.do(call{method: "PUT", path: path, body: changed, header: map[string]string{"If-None-Match": "*"}}).is(412)
	second := b.do(call{method: "PUT", path: path, body: changed, header: map[string]string{"If-Match": `"x", ` + first}}).is(200).header.Get("ETag")
	require.NotEqual(t, first, second)
	b.do(call{method: "GET", path: path, header: map[string]string{"If-None-Match": first}}).is(200)
	b.do(call{method: "PUT", path: path, body: changed, header: map[string]string{"If-Match": first}}).is(412)

	// A set-up that was read can be put back unchanged.
	b.do(call{method: "PUT", path: path, body: b.get(path).body, header: map[string]string{"If-Match": second}}).is(200)
}

func TestSetupParts(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	const path = "/v1/sites/quay/setup/"
	b.do(call{method: "PUT", path: path + "costs", body: map[string]any{}}).is(404).problem()
	etag := b.setUp("quay")
	for _, part := range []string{"site", "coffees", "beverages", "drinks", "brewers", "ice", "water", "costs", "service_level_pct"} {
		a := b.get(path + part).is(200)
		require.Equal(t, etag, a.header.Get("ETag"))
		b.do(call{method: "GET", path: path + part, header: map[string]string{"If-None-Match": etag}}).is(304)
		b.put(path+part, a.body).is(428)
		put := b.do(call{method: "PUT", path: path + part, body: a.body, header: map[string]string{"If-Match": etag}}).is(200)
		require.JSONEq(t, string(a.body), string(put.body), part)
		require.Equal(t, etag, put.header.Get("ETag"), "putting the same part changes nothing: %s", part)
	}
	drinks := shop("quay")["drinks"].([]any)
	edit(map[string]any{"drinks": drinks}, 160, "drinks", 0, "serving_ice_g")
	put := b.do(call{method: "PUT", path: path + "drinks", body: drinks, header: map[string]string{"If-Match": etag}}).is(200)
	next := put.header.Get("ETag")
	require.NotEqual(t, etag, next)
	b.do(call{method: "PUT", path: path + "drinks", body: drinks, header: map[string]string{"If-Match": etag}}).is(412)
	var setup models.Setup
	b.get("/v1/sites/quay/setup").is(200).into(&setup)
	require.InDelta(t, 160, setup.Drinks[0].ServingIceG, 0)
	require.Len(t, setup.Brewers, 1, "the other parts are unchanged")
	b.do(call{method: "PUT", path: path + "service_level_pct", body: "90", header: map[string]string{"If-Match": next}}).is(200)
	b.do(call{method: "PUT", path: path + "service_level_pct", body: "null", header: map[string]string{"If-Match": "*"}}).is(200)
}

func TestOnlyOrganisationTokensCreateSites(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	local := b.newToken("quay", models.ScopeManage)
	b.do(call{method: "PUT", path: "/v1/sites/pier/setup", body: shop("pier"), token: local}).is(404)
	b.get("/v1/sites/pier/setup").is(404)
	var sites models.Rows[struct{ Code, Name string }]
	b.do(call{method: "GET", path: "/v1/sites", token: local}).is(200).into(&sites)
	require.Len(t, sites.Rows, 1)
}
