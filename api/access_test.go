package api_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

func TestRouteScopes(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	tokens := map[string]string{"none": "-", "wrong": "hotday_nonsense", "manage": b.token}
	for _, scope := range []string{models.ScopeManage, models.ScopeKitchen, models.ScopeSales, models.ScopeRead} {
		tokens[scope+"@quay"] = b.newToken("quay", scope)
	}
	all := map[string]int{"none": 401, "wrong": 401, "manage": 200, "manage@quay": 200, "kitchen@quay": 403, "sales@quay": 403, "read@quay": 403}
	with := func(change map[string]int) map[string]int {
		out := map[string]int{}
		for k, v := range all {
			out[k] = v
		}
		for k, v := range change {
			out[k] = v
		}
		return out
	}
	cases := []struct {
		method, path string
		body         any
		want         map[string]int
	}{
		{"GET", "/v1/sites/quay/setup", nil, with(nil)},
		{"GET", "/v1/sites/quay/setup/drinks", nil, with(nil)},
		{"POST", "/v1/sites/quay/sales-counts", sales(saleRow(nil)), with(map[string]int{"sales@quay": 200})},
		{"GET", "/v1/sites/quay/sales-counts", nil, with(map[string]int{"sales@quay": 200, "read@quay": 200, "kitchen@quay": 200})},
		{"GET", "/v1/sites/quay/item-mappings", nil, with(nil)},
		{"PUT", "/v1/sites/quay/expected-demand", rowsOf(), with(nil)},
		{"PUT", "/v1/sites/quay/weather", map[string]any{"kind": "observed", "issued_at": "2026-07-10T10:00:00Z", "hours": []any{}}, with(map[string]int{"sales@quay": 200})},
		{"PUT", "/v1/sites/quay/events", map[string]any{"events": []any{}}, with(nil)},
		{"POST", "/v1/sites/quay/off-sale", rowsOf(), with(map[string]int{"sales@quay": 200, "kitchen@quay": 200})},
		{"POST", "/v1/sites/quay/stock-changes", rowsOf(), with(map[string]int{"kitchen@quay": 200})},
		{"PUT", "/v1/sites/quay/measured-brews", rowsOf(), with(map[string]int{"kitchen@quay": 200})},
		{"GET", "/v1/sites/quay/measured-brews?coffee=c", nil, with(map[string]int{"kitchen@quay": 200, "read@quay": 200})},
		{"GET", "/v1/sites/quay/forecast", nil, with(map[string]int{"kitchen@quay": 200, "read@quay": 200})},
		{"GET", "/v1/sites/quay/plans", nil, with(map[string]int{"kitchen@quay": 200, "read@quay": 200})},
		{"GET", "/v1/sites/quay/warnings", nil, with(map[string]int{"kitchen@quay": 200, "read@quay": 200, "sales@quay": 200})},
		{"GET", "/v1/tokens", nil, with(nil)},
		{"POST", "/v1/calc/heat-index", map[string]any{"temp_c": 32, "humidity_pct": 60}, with(map[string]int{"kitchen@quay": 200, "read@quay": 200})},
		// A site out of reach gives 404, whatever the scope.
		{"GET", "/v1/sites/pier/setup", nil, with(map[string]int{"manage@quay": 404, "kitchen@quay": 404, "sales@quay": 404, "read@quay": 404})},
		{"POST", "/v1/sites/pier/sales-counts", sales(saleRow(nil)), with(map[string]int{"manage@quay": 404, "kitchen@quay": 404, "sales@quay": 404, "read@quay": 404})},
	}
	for _, x := range cases {
		for who, status := range x.want {
			a := b.do(call{method: x.method, path: x.path, body: x.body, token: tokens[who]})
			require.Equal(t, status, a.status, "%s %s as %s: %s", x.method, x.path, who, a.body)
			if status >= 400 {
				a.problem()
			}
			if status == 401 {
				require.Contains(t, a.header.Get("WWW-Authenticate"), "Bearer")
			}
		}
	}
	unknown := b.do(call{method: "GET", path: "/v1/sites/nowhere/setup"}).is(404).problem()
	others := b.do(call{method: "GET", path: "/v1/sites/pier/setup", token: tokens["manage@quay"]}).is(404).problem()
	require.Equal(t, strings.ReplaceAll(unknown.Detail, "nowhere", "pier"), others.Detail, "a site out of reach looks like one that does not exist")
	for _, path := range []string{"/healthz", "/readyz", "/openapi.yaml", "/openapi"} {
		b.do(call{method: "GET", path: path, token: "-"}).is(200)
	}
}

func TestTasksOfAnotherSiteAreNotFound(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	require.NoError(t, b.store.PutSheets(t.Context(), "pier", []models.PrepSheet{{Site: "pier", Date: "2026-07-11", Revision: 1, PublishedAt: b.clock.Now(),
		Tasks: []models.Task{{ID: "task-1", At: b.clock.Now(), Kind: models.TaskIceCheck, Station: "Cuber"}}}}))
	mark := map[string]any{"state": "made", "at": "2026-07-10T09:00:00Z", "key": "k"}
	b.do(call{method: "POST", path: "/v1/tasks/task-1/marks", body: mark, token: b.newToken("quay", models.ScopeKitchen)}).is(404)
	b.do(call{method: "POST", path: "/v1/tasks/task-1/marks", body: mark, token: b.newToken("pier", models.ScopeRead)}).is(403)
	b.do(call{method: "POST", path: "/v1/tasks/task-1/marks", body: mark, token: b.newToken("pier", models.ScopeKitchen)}).is(200)
	b.do(call{method: "POST", path: "/v1/tasks/task-2/marks", body: mark}).is(404)
	b.do(call{method: "POST", path: "/v1/tasks/task-1/marks", body: map[string]any{"state": "done", "at": "2026-07-10T09:00:00Z", "key": "k2"}}).is(422).named("/state", "started, made, skipped, due")
	b.do(call{method: "POST", path: "/v1/tasks/task-1/marks", body: map[string]any{"state": "made", "at": "2026-07-10T09:00:00Z"}}).is(400).named("/key", "text")
}

func TestTokenLifecycle(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	var made struct{ ID, Secret, Site string }
	b.post("/v1/tokens", map[string]any{"name": "till", "scopes": []string{"sales"}, "site": "quay"}).is(201).into(&made)
	require.Equal(t, "quay", made.Site)
	b.do(call{method: "POST", path: "/v1/sites/quay/sales-counts", token: made.Secret, body: sales(saleRow(nil))}).is(200)
	list := b.get("/v1/tokens").is(200)
	require.NotContains(t, string(list.body), made.Secret)
	require.Contains(t, string(list.body), made.ID)

	local := b.newToken("pier", models.ScopeManage)
	b.do(call{method: "POST", path: "/v1/tokens", token: local, body: map[string]any{"scopes": []string{"manage"}, "site": "quay"}}).is(403)
	b.do(call{method: "DELETE", path: "/v1/tokens/" + made.ID, token: local}).is(404)
	require.NotContains(t, string(b.do(call{method: "GET", path: "/v1/tokens", token: local}).is(200).body), made.ID)
	b.do(call{method: "POST", path: "/v1/tokens", token: local, body: map[string]any{"scopes": []string{"read"}}}).is(201).into(&made)
	require.Equal(t, "pier", made.Site, "a token for one site creates tokens for that site")
	b.post("/v1/tokens", map[string]any{"scopes": []string{"admin"}}).is(422).named("/scopes/0", "manage, kitchen, sales, read")
	b.post("/v1/tokens", map[string]any{"scopes": []string{"read"}, "site": "nowhere"}).is(422).named("/site", "set up")

	b.do(call{method: "DELETE", path: "/v1/tokens/" + made.ID}).is(204)
	b.do(call{method: "GET", path: "/v1/sites", token: made.Secret}).is(401)
	b.do(call{method: "PUT", path: "/v1/sites/fresh/setup", token: local, body: shop("fresh")}).is(404)
}

func TestSessionsNeedTheirCSRFToken(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	etag := b.setUp("quay")
	b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": "hotday_wrong"}}).is(401)
	in := b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201)
	cookie := in.header.Get("Set-Cookie")
	require.Contains(t, cookie, "HttpOnly")
	require.Contains(t, cookie, "SameSite=Lax")
	require.NotContains(t, cookie, b.token)
	pair, _, _ := strings.Cut(cookie, ";")
	var who struct {
		CSRFToken string `json:"csrf_token"`
	}
	in.into(&who)
	require.NotEmpty(t, who.CSRFToken)
	session := func(method, path string, body any, header map[string]string) answer {
		h := map[string]string{"Cookie": pair}
		for k, v := range header {
			h[k] = v
		}
		return b.do(call{method: method, path: path, token: "-", body: body, header: h})
	}
	session("GET", "/v1/sites/quay/setup", nil, nil).is(200)
	session("GET", "/v1/session", nil, nil).is(200).into(&who)
	before := b.state("quay")
	session("PUT", "/v1/sites/quay/setup", edit(shop("quay"), 100, "site", "altitude_m"), map[string]string{"If-Match": etag}).is(403).problem()
	session("PUT", "/v1/sites/quay/setup", edit(shop("quay"), 100, "site", "altitude_m"), map[string]string{"If-Match": etag, "X-CSRF-Token": "guess"}).is(403)
	require.Equal(t, before, b.state("quay"))
	session("PUT", "/v1/sites/quay/setup", edit(shop("quay"), 100, "site", "altitude_m"), map[string]string{"If-Match": etag, "X-CSRF-Token": who.CSRFToken}).is(200)

	// Forms send it in a field.
	form := func(fields url.Values) *http.Response {
		req, err := http.NewRequest("POST", b.base+"/sign-out", strings.NewReader(fields.Encode()))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Cookie", pair)
		resp, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(req)
		require.NoError(t, err)
		require.NoError(t, resp.Body.Close())
		return resp
	}
	require.Equal(t, 403, form(url.Values{}).StatusCode)
	session("GET", "/v1/session", nil, nil).is(200)
	require.Equal(t, http.StatusSeeOther, form(url.Values{"csrf": {who.CSRFToken}}).StatusCode)
	session("GET", "/v1/session", nil, nil).is(401)
}

func TestASessionEndsWithItsToken(t *testing.T) {
	t.Parallel()
	b := newBundle(t, func(c *api.Config) { c.SecureCookies = true })
	var made struct{ ID, Secret string }
	b.post("/v1/tokens", map[string]any{"scopes": []string{"read"}}).is(201).into(&made)
	in := b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": made.Secret}}).is(201)
	require.Contains(t, in.header.Get("Set-Cookie"), "Secure")
	require.NotEmpty(t, in.header.Get("Strict-Transport-Security"))
	pair, _, _ := strings.Cut(in.header.Get("Set-Cookie"), ";")
	me := call{method: "GET", path: "/v1/session", token: "-", header: map[string]string{"Cookie": pair}}
	b.do(me).is(200)
	b.do(call{method: "DELETE", path: "/v1/tokens/" + made.ID}).is(204)
	b.do(me).is(401)
}

func TestRateLimitSetsRetryAfter(t *testing.T) {
	t.Parallel()
	b := newBundle(t, func(c *api.Config) { c.RatePerSecond = 0.5 })
	for range 2 {
		b.get("/v1/sites").is(200)
	}
	a := b.get("/v1/sites").is(429)
	a.problem()
	require.Equal(t, "2", a.header.Get("Retry-After"))
	b.do(call{method: "GET", path: "/v1/sites", token: b.newToken("", models.ScopeRead)}).is(200)
	b.clock.advance(2e9)
	b.get("/v1/sites").is(200)
}

func TestWrongKeysAreRateLimitedByAddress(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	try := call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": "hotday_guess"}}
	for range 20 {
		b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201) // valid keys do not count
		b.do(try).is(401)
	}
	a := b.do(try).is(429)
	require.NotEmpty(t, a.header.Get("Retry-After"))
}

func TestLogsContainNoSecrets(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.post("/v1/tokens", map[string]any{"scopes": []string{"read"}}).is(201)
	b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201)
	b.get("/v1/sites/quay/sales-counts?item=private").is(200)
	require.Contains(t, b.log.String(), "/v1/sites/:site/setup")
	require.NotContains(t, b.log.String(), "hotday_")
	require.NotContains(t, b.log.String(), "private")
}
