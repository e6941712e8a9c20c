package api_test

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/openapi"
)

// operation is a row of the contract with a path that can be called.
type operation struct {
	method, path, template string
	scopes                 []string // any of them suffices; none: public
}

// operations lists the contract; parameters of paths are replaced by with, and by something that does not exist otherwise.
func operations(t *testing.T, with map[string]string) (list []operation) {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(openapi.YAML)
	require.NoError(t, err)
	for template, item := range doc.Paths.Map() {
		path := template
		for _, p := range []string{"site", "group", "id", "rev", "other", "date", "kind", "delivery"} {
			value := with[p]
			if value == "" {
				value = map[string]string{"rev": "7", "other": "8", "date": "2026-07-11", "kind": "chill"}[p]
			}
			if value == "" {
				value = "none"
			}
			path = strings.ReplaceAll(path, "{"+p+"}", value)
		}
		require.NotContains(t, path, "{")
		for method, op := range item.Operations() {
			o := operation{method: method, path: path, template: template}
			for _, requirement := range *op.Security {
				o.scopes = append(o.scopes, requirement["bearer"]...)
			}
			list = append(list, o)
		}
	}
	slices.SortFunc(list, func(a, b operation) int { return strings.Compare(a.path+a.method, b.path+b.method) })
	return list
}

// Every route is called by every caller: what the contract's scopes grant is let through to the route's own checks, all else is refused.
func TestEveryRouteRefusesEveryCallerWithoutItsScope(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	b.put("/v1/groups/north", groupOf("North", "quay")).is(201)
	b.put("/v1/groups/south", groupOf("South", "pier")).is(201)
	callers := map[string]string{"nobody": "-", "wrong": "hotday_nonsense"}
	granted := map[string]models.Token{}
	for _, scope := range []string{models.ScopeManage, models.ScopeKitchen, models.ScopeSales, models.ScopeRead} {
		for _, site := range []string{"", "quay", "pier"} {
			name := scope + "@" + site
			callers[name], granted[name] = b.newToken(site, scope), models.Token{Scopes: []string{scope}, Site: site}
		}
		for group, site := range map[string]string{"north": "quay", "south": "pier"} {
			name := scope + "@" + group
			callers[name] = b.groupToken([]string{group}, scope)
			granted[name] = models.Token{Scopes: []string{scope}, Groups: []string{group}}.WithGroupSites([]string{site})
		}
	}
	called := 0
	for _, o := range operations(t, map[string]string{"site": "quay"}) {
		if o.template == "/v1/session" && o.method == "DELETE" || len(o.scopes) == 0 {
			continue // public
		}
		ofSite := strings.Contains(o.template, "{site}")
		for name, secret := range callers {
			token, known := granted[name]
			want := 0 // let through
			switch {
			case !known:
				want = http.StatusUnauthorized
			case ofSite && !token.Covers("quay"):
				want = http.StatusNotFound
			case !slices.ContainsFunc(o.scopes, func(s string) bool { return token.Has(s) }):
				want = http.StatusForbidden
			case o.method == "DELETE" && o.template == "/v1/sites/{site}" && !token.Everywhere(): // a site can't delete itself
				want = http.StatusForbidden
			case o.method != "GET" && o.template == "/v1/groups/{group}" && !token.Everywhere():
				want = http.StatusForbidden
			case strings.HasSuffix(o.template, "/live"), o.template == "/v1/password": // endless; for people only
				continue
			}
			a := b.raw(call{method: o.method, path: o.path, token: secret})
			called++
			if want == 0 {
				require.NotContains(t, []int{401, 403, 500}, a.status, "%s %s as %s: %s", o.method, o.template, name, a.body)
				continue
			}
			require.Equal(t, want, a.status, "%s %s as %s: %s", o.method, o.template, name, a.body)
		}
	}
	require.Greater(t, called, 2000)
}

// change is a valid call of an unsafe route.
type change struct {
	method, template string
	path             string // "": the template with its parameters replaced
	body             any
	header           map[string]string
	media            string
}

// changes are calls of every unsafe route that changes something, in an order in which each succeeds, with prepare to make that so.
func changesOf(b *bundle) []change {
	const site, when = "/v1/sites/{site}", "2026-07-10T12:00:00Z"
	outage := map[string]any{"kind": "maker", "code": "Cuber", "from": "2026-07-10T12:00:00Z", "to": "2026-07-10T14:00:00Z"}
	span := map[string]any{"from": "2026-07-11T10:00:00Z", "to": "2026-07-11T12:00:00Z"}
	with := func(m map[string]any, more map[string]any) map[string]any {
		out := map[string]any{}
		for _, x := range []map[string]any{m, more} {
			for k, v := range x {
				out[k] = v
			}
		}
		return out
	}
	from, to := "2026-07-11T10:00:00Z", "2026-07-11T12:00:00Z"
	return []change{
		{method: "POST", template: site + "/sales-counts", body: sales(saleRow(nil))},
		{method: "POST", template: site + "/sales-files", path: site + "/sales-files?source=book", media: "text/csv", body: "item,start,end,count\nICED-L,2026-07-09 10:00,2026-07-09 11:00,4\n"},
		{method: "PUT", template: site + "/item-mappings", body: map[string]any{"mappings": []any{map[string]any{"source": "till-1", "item": "ICED-M", "drink": "iced"}}}},
		{method: "DELETE", template: site + "/item-mappings", path: site + "/item-mappings?source=till-1&item=ICED-M"},
		{method: "PUT", template: site + "/expected-demand", body: rowsOf(map[string]any{"date": "2026-07-11", "day_part": "morning", "drink": "iced", "expected": 20})},
		{method: "PUT", template: site + "/weather", body: map[string]any{"kind": "forecast", "issued_at": when, "hours": []any{map[string]any{"at": "2026-07-11T12:00:00Z", "temp_c": 33}}}},
		{method: "PUT", template: site + "/weather-highs", body: rowsOf(map[string]any{"date": "2026-07-11", "high_c": 36})},
		{method: "PUT", template: site + "/events", body: map[string]any{"events": []any{with(span, map[string]any{"name": "Fair"})}}},
		{method: "DELETE", template: site + "/events", path: site + "/events?from=" + from + "&to=" + to + "&name=Fair"},
		{method: "PUT", template: site + "/outages", body: rowsOf(outage)},
		{method: "DELETE", template: site + "/outages/now", path: site + "/outages/now?kind=maker&code=Cuber"},
		{method: "POST", template: site + "/outages/now", body: map[string]any{"kind": "brewer", "code": "Left"}},
		{method: "PUT", template: site + "/attention", body: rowsOf(with(span, map[string]any{"starts": 0}))},
		{method: "POST", template: site + "/off-sale", body: rowsOf(with(span, map[string]any{"drink": "iced"}))},
		{method: "DELETE", template: site + "/off-sale", path: site + "/off-sale?drink=iced&from=" + from},
		{method: "POST", template: site + "/stock-counts", body: map[string]any{"counted_at": when, "ice_g": 9000}},
		{method: "DELETE", template: site + "/stock-counts", path: site + "/stock-counts?counted_at=" + when + "&kind=ice"},
		{method: "POST", template: site + "/stock-changes", body: rowsOf(map[string]any{"kind": "bought_in", "ice_g": 5000, "at": when})},
		{method: "PUT", template: site + "/measured-brews", body: rowsOf(map[string]any{"coffee": "house", "at": when, "dose_g": 60, "brew_water_g": 720, "beverage_g": 612, "tds_pct": 1.6})},
		{method: "DELETE", template: site + "/measured-brews", path: site + "/measured-brews?coffee=house&at=" + when},
		{method: "POST", template: site + "/plans", body: map[string]any{"from": "2026-07-11", "days": 1}, header: map[string]string{"Prefer": "respond-async"}},
		{method: "DELETE", template: site + "/work/{kind}", path: site + "/work/plan"},
		{method: "POST", template: site + "/replays", body: map[string]any{"days": 1}},
		{method: "POST", template: "/v1/tasks/{id}/marks", path: "/v1/tasks/task-1/marks", body: map[string]any{"state": "made", "at": when, "key": "k"}},
		{method: "POST", template: site + "/prep-sheets/{date}/delay", path: site + "/prep-sheets/2026-07-10/delay", body: map[string]any{"minutes": 15, "key": "late"}},
		{method: "DELETE", template: site + "/prep-sheets/{date}/delay", path: site + "/prep-sheets/2026-07-10/delay?key=late"},
		{method: "PUT", template: site + "/setup/costs", body: map[string]any{"short_factor": 2}, header: map[string]string{"If-Match": "*"}},
		{method: "POST", template: site + "/calendar-key"},
		{method: "DELETE", template: site + "/calendar-key"},
		{method: "POST", template: "/v1/tokens", body: map[string]any{"name": "till", "scopes": []string{"sales"}, "site": "quay"}},
		{method: "POST", template: "/v1/people", body: map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"kitchen"}, "site": "quay"}},
		{method: "PUT", template: "/v1/groups/{group}", path: "/v1/groups/north", body: groupOf("North", "quay")},
		{method: "DELETE", template: "/v1/groups/{group}", path: "/v1/groups/north"},
		{method: "POST", template: "/v1/webhooks", body: map[string]any{"url": "https://example.com/hook", "events": []string{"task.marked"}, "site": "quay"}},
	}
}

// prepareChanges stores what changesOf needs: a published sheet with a task.
func (b *bundle) prepareChanges() {
	b.t.Helper()
	b.setUp("quay")
	task := models.Task{ID: "task-1", At: b.clock.Now(), Kind: models.TaskIceCheck, Station: "Cuber", Say: "Ice bin full?"}
	later := models.Task{ID: "task-2", At: b.clock.Now().Add(1e13), Kind: models.TaskIceCheck, Station: "Cuber", Say: "Ice bin full?"}
	require.NoError(b.t, b.store.PutSheets(context.Background(), "quay", []models.PrepSheet{{Site: "quay", Date: "2026-07-10", Revision: 90, PublishedAt: b.clock.Now(), Tasks: []models.Task{task, later}}}))
}

func (b *bundle) change(x change, token string) answer {
	b.t.Helper()
	path := x.path
	if path == "" {
		path = x.template
	}
	header := map[string]string{}
	for k, v := range x.header {
		header[k] = v
	}
	if x.media != "" {
		header["Content-Type"] = x.media
	}
	send := b.do
	if strings.HasSuffix(x.template, "/delay") {
		send = b.raw // the prepared sheet is too short for the contract
	}
	a := send(call{method: x.method, path: strings.ReplaceAll(path, "{site}", "quay"), body: x.body, token: token, header: header})
	require.Less(b.t, a.status, 300, "%s %s: %s", x.method, path, a.body)
	return a
}

func (b *bundle) entries() []models.AuditEntry {
	b.t.Helper()
	list, err := b.store.Audit(context.Background(), nil, models.Page{})
	require.NoError(b.t, err)
	return list.Rows
}

// withoutAuthor are the unsafe routes that change nothing of a shop, and those that other tests follow to their entries.
var withoutAuthor = []string{
	"POST /v1/plan-previews", "POST /v1/calc/{kind}", // store nothing
	"POST /v1/screen-pairings", "POST /v1/screen-pairings/{id}/claim", // of a device that nobody knows yet; POST screens has the author
	"POST /v1/session", "DELETE /v1/session", "DELETE /v1/sessions/{id}", "POST /v1/welcome", "PUT /v1/password", // TestSignInsAreInTheActivityLog, TestActivityLog
	"DELETE /v1/tokens/{id}", "PUT /v1/people/{id}", "DELETE /v1/people/{id}", "POST /v1/people/{id}/link", "DELETE /v1/webhooks/{id}", // as their POST, in one function each
	"PUT /v1/people/{id}/mail", "POST /v1/people/{id}/mail/confirmation", // TestMailSettings; the second only sends a link again
	"PUT /v1/people/{id}/push", "POST /v1/sites/{site}/push-devices", "DELETE /v1/push-devices/{id}", // TestManagersChooseWhatDevicesShow, TestAPersonTurnsNotificationsOnAndOff
	"DELETE /v1/sites/{site}", // TestSiteIsExportedAndDeletedByThoseWhoMay
	"POST /v1/webhooks/{id}/deliveries/{delivery}/replay", "POST /v1/screens", "PUT /v1/screens/{id}", "DELETE /v1/screens/{id}",
	"POST /v1/sites/{site}/learnt/{id}/use", "POST /v1/sites/{site}/learnt/{id}/undo", "POST /v1/sites/{site}/sign-offs", // through the set-up
	"POST /v1/sites/{site}/plans/{rev}/publish", "POST /v1/sites/{site}/plans/{rev}/set-aside", "POST /v1/sites/{site}/warnings/{id}/ack",
}

func TestEveryChangeHasAnAuthor(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.prepareChanges()
	driven := map[string]bool{}
	for _, x := range changesOf(b) {
		_, secret, err := b.store.AddToken(t.Context(), models.Token{Name: "author of " + x.template, Scopes: []string{models.ScopeManage}}, b.clock.Now())
		require.NoError(t, err)
		before := len(b.entries())
		b.change(x, secret)
		entries := b.entries()
		require.Greater(t, len(entries), before, "%s %s leaves no entry", x.method, x.template)
		require.Equal(t, "author of "+x.template, entries[0].By)
		require.NotEmpty(t, entries[0].ByToken)
		if !strings.HasSuffix(x.template, "calendar-key") {
			require.NotEmpty(t, entries[0].Subject, x.template)
		}
		driven[x.method+" "+x.template] = true
	}
	for _, o := range operations(t, nil) {
		key := o.method + " " + o.template
		if o.method == "GET" || slices.Contains(withoutAuthor, key) || strings.HasPrefix(key, "PUT /v1/sites/{site}/setup") || key == "POST /v1/sites/{site}/holidays" {
			continue
		}
		require.True(t, driven[key], "%s needs a call in changesOf", key)
	}
}

func TestWhatASandboxKeySendsIsAnsweredAndNotStored(t *testing.T) {
	t.Parallel()
	b, real := newBundle(t), newBundle(t)
	b.prepareChanges()
	real.prepareChanges()
	_, sandbox, err := b.store.AddToken(t.Context(), models.Token{Name: "try", Scopes: []string{models.ScopeManage}, Sandbox: true}, b.clock.Now())
	require.NoError(t, err)
	for i, x := range changesOf(b) {
		before, entries := b.state("quay"), len(b.entries())
		a := b.change(x, sandbox)
		require.Equal(t, before, b.state("quay"), "%s %s", x.method, x.template)
		require.Len(t, b.entries(), entries)
		require.Equal(t, "not stored", a.header.Get("Hotday-Sandbox"))
		same := real.change(changesOf(real)[i], "")
		require.Equal(t, same.status, a.status)
		require.Empty(t, same.header.Get("Hotday-Sandbox"))
		if len(a.body) > 0 && (x.method == "PUT" || strings.HasSuffix(x.template, "counts")) {
			require.JSONEq(t, string(same.body), string(a.body), "%s %s is answered as usual", x.method, x.template)
		}
		b.change(x, "") // for the next one
	}
	b.do(call{method: "POST", path: "/v1/sites/quay/sales-counts", token: sandbox, body: sales(saleRow(map[string]any{"count": -1}))}).is(422)

	var made struct {
		models.Token
		Secret string
	}
	b.post("/v1/tokens", map[string]any{"name": "integrator", "scopes": []string{"sales"}, "site": "quay", "sandbox": true}).is(201).into(&made)
	require.True(t, made.Sandbox)
	require.Equal(t, "not stored", b.do(call{method: "GET", path: "/v1/sites/quay/warnings", token: made.Secret}).is(200).header.Get("Hotday-Sandbox"))
}

func TestSignInsAreInTheActivityLog(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	_, code := b.invite(map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"manage"}, "site": "quay"})
	b.welcome(code, goodPassword).is(200)
	wrong := func(name string) {
		b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"sign_in": name, "password": "something else entirely"}}).is(401)
	}
	for range 3 {
		wrong("ada")
		wrong("my secret pass phrase")
	}
	b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": "hotday_guess"}}).is(401)
	ada := b.visit("ada", goodPassword)
	ada.do("DELETE", "/v1/session", nil).is(204)
	var got []string
	for _, e := range b.entries() {
		if strings.HasPrefix(e.Action, "sign") {
			got = append(got, e.By+" "+e.Action+" "+e.Subject+" at "+e.Site)
		}
	}
	slices.Reverse(got)
	require.Equal(t, []string{
		" sign_in_failed ada (127.0.0.1) at quay", " sign_in_failed unknown (127.0.0.1) at ",
		"Ada signed_in 127.0.0.1 at quay", "Ada signed_out 127.0.0.1 at quay",
	}, got, "each failure once an hour, and no word that was typed as a name")
}
