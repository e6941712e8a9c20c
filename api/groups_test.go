package api_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// groupToken makes a token for groups.
func (b *bundle) groupToken(groups []string, scopes ...string) string {
	b.t.Helper()
	_, secret, err := b.store.AddToken(b.t.Context(), models.Token{Name: "region", Scopes: scopes, Groups: groups}, b.clock.Now())
	require.NoError(b.t, err)
	return secret
}

func (b *bundle) as(token, method, path string, body any) answer {
	b.t.Helper()
	return b.do(call{method: method, path: path, token: token, body: body})
}

func groupOf(name string, sites ...string) map[string]any {
	return map[string]any{"name": name, "sites": append([]string{}, sites...)}
}

func TestGroupsAreKeptByTheOrganisation(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	require.Equal(t, "/v1/groups/north", b.put("/v1/groups/north", groupOf("North", "quay", "pier", "quay")).is(201).header.Get("Location"))
	var g models.Group
	b.get("/v1/groups/north").is(200).into(&g)
	require.Equal(t, models.Group{Code: "north", Name: "North", Sites: []string{"pier", "quay"}}, g)
	b.put("/v1/groups/north", groupOf("Northern", "quay")).is(200).into(&g)
	require.Equal(t, []string{"quay"}, g.Sites)
	b.put("/v1/groups/south", groupOf("South")).is(201)
	var list models.Rows[models.GroupHead]
	b.get("/v1/groups?limit=1").is(200).into(&list)
	require.Equal(t, []models.GroupHead{{Code: "north", Name: "Northern", Sites: 1}}, list.Rows)
	b.get("/v1/groups?limit=1&cursor=" + *list.Next).is(200).into(&list)
	require.Equal(t, "south", list.Rows[0].Code)
	require.Nil(t, list.Next)

	require.Contains(t, string(b.put("/v1/groups/north", groupOf("North", "quay", "nowhere")).is(422).body), `"/sites/1"`)
	b.get("/v1/groups/north").is(200).into(&g)
	require.Equal(t, "Northern", g.Name, "nothing is half written")
	require.Contains(t, string(b.raw(call{method: "PUT", path: "/v1/groups/no%20rth", body: groupOf("North")}).is(422).body), `"/group"`)
	b.put("/v1/groups/north", map[string]any{"name": "North"}).is(400)
	b.get("/v1/groups?cursor=x").is(422)
	b.get("/v1/groups/west").is(404)

	b.groupToken([]string{"north"}, models.ScopeRead)
	require.Contains(t, string(b.do(call{method: "DELETE", path: "/v1/groups/north"}).is(409).body), "access keys and people")
	b.do(call{method: "DELETE", path: "/v1/groups/south"}).is(204)
	b.do(call{method: "DELETE", path: "/v1/groups/south"}).is(404)
	log := string(b.get("/v1/audit").is(200).body)
	require.Contains(t, log, `"group_changed","subject":"north (1)"`)
	require.Contains(t, log, `"group_deleted","subject":"south"`)
}

func TestAMemberOfAGroupReachesItsSitesAtOnceAndNoOthers(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	for _, site := range []string{"quay", "pier", "moor"} {
		b.setUp(site)
	}
	b.put("/v1/groups/north", groupOf("North", "quay")).is(201)
	b.put("/v1/groups/south", groupOf("South", "moor")).is(201)
	region := b.groupToken([]string{"north"}, models.ScopeManage)
	sites := func() string { return string(b.as(region, "GET", "/v1/sites", nil).is(200).body) }
	require.Contains(t, sites(), "quay")
	require.NotContains(t, sites(), "pier")
	b.as(region, "GET", "/v1/sites/quay/setup", nil).is(200)
	unknown := string(b.as(region, "GET", "/v1/sites/nowhere/setup", nil).is(404).body)
	require.Equal(t, strings.ReplaceAll(unknown, "nowhere", "pier"), string(b.as(region, "GET", "/v1/sites/pier/setup", nil).is(404).body), "the two cannot be told apart")
	live := b.listen("/v1/sites/quay/live", region, "")
	require.Equal(t, "hello", live.next().event)

	b.put("/v1/groups/north", groupOf("North", "pier")).is(200)
	b.as(region, "GET", "/v1/sites/quay/setup", nil).is(404)
	b.as(region, "GET", "/v1/sites/pier/setup", nil).is(200)
	for live.lines.Scan() { // ends: the site is no longer within reach
	}

	// Tasks are addressed without a site.
	require.NoError(t, b.store.PutSheets(t.Context(), "quay", []models.PrepSheet{{Site: "quay", Date: "2026-07-10", Revision: 90, PublishedAt: b.clock.Now(),
		Tasks: []models.Task{{ID: "task-1", At: b.clock.Now(), Kind: models.TaskIceCheck, Station: "Cuber", Say: "Ice bin full?"}}}}))
	mark := map[string]any{"state": "made", "at": "2026-07-10T12:00:00Z", "key": "k"}
	b.as(region, "POST", "/v1/tasks/task-1/marks", mark).is(404)
	b.put("/v1/groups/north", groupOf("North", "quay", "pier")).is(200)
	b.as(region, "POST", "/v1/tasks/task-1/marks", mark).is(200)

	// The organisation's data and another group's are out of reach, and nobody can grant more than they have.
	b.as(region, "PUT", "/v1/groups/north", groupOf("North", "quay", "moor")).is(403)
	b.as(region, "DELETE", "/v1/groups/north", nil).is(403)
	b.as(region, "GET", "/v1/groups/south", nil).is(404)
	require.NotContains(t, string(b.as(region, "GET", "/v1/groups", nil).is(200).body), "South")
	key := func(more map[string]any) map[string]any {
		out := map[string]any{"name": "till", "scopes": []string{"sales"}}
		for k, v := range more {
			out[k] = v
		}
		return out
	}
	b.as(region, "POST", "/v1/tokens", key(map[string]any{"site": ""})).is(403)
	b.as(region, "POST", "/v1/tokens", key(map[string]any{"site": "moor"})).is(403)
	b.as(region, "POST", "/v1/tokens", key(map[string]any{"groups": []string{"south"}})).is(403)
	b.as(region, "POST", "/v1/tokens", key(map[string]any{"groups": []string{"north", "south"}})).is(403)
	var made models.Token
	b.as(region, "POST", "/v1/tokens", key(nil)).is(201).into(&made)
	require.Equal(t, []string{"north"}, made.Groups, "the caller's own")
	b.as(region, "POST", "/v1/tokens", key(map[string]any{"site": "pier"})).is(201)
	b.as(region, "POST", "/v1/webhooks", map[string]any{"url": "https://example.com/hook", "events": []string{"task.marked"}}).is(422)
	require.Contains(t, string(b.post("/v1/tokens", key(map[string]any{"groups": []string{"west"}})).is(422).body), `"/groups/0"`)
	b.post("/v1/tokens", key(map[string]any{"site": "moor"})).is(201)
	b.post("/v1/tokens", key(nil)).is(201)
	list := string(b.as(region, "GET", "/v1/tokens", nil).is(200).body)
	require.Contains(t, list, `"pier"`)
	require.NotContains(t, list, `"moor"`)
	require.NotContains(t, list, `"site":"","groups":[]`)
	log := string(b.as(region, "GET", "/v1/audit", nil).is(200).body)
	require.Contains(t, log, `"site":"quay"`)
	require.NotContains(t, log, `"site":"moor"`)
	require.NotContains(t, log, `"site":""`)
	b.do(call{method: "PUT", path: "/v1/sites/new/setup", token: region, body: map[string]any{}}).is(404)

	// People too, whose messages follow their reach.
	var ada struct {
		models.Person
		Link string
	}
	b.post("/v1/people", map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"manage"}, "groups": []string{"north"}}).is(201).into(&ada)
	require.Empty(t, ada.Site)
	b.as(region, "PUT", "/v1/people/"+ada.ID, map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"manage"}, "site": ""}).is(422)
	b.as(region, "PUT", "/v1/people/"+ada.ID+"/push", map[string]any{"subscriptions": []any{map[string]any{"site": "quay", "kinds": []string{"act_now"}}}}).is(200)
	b.put("/v1/people/"+ada.ID+"/push", map[string]any{"subscriptions": []any{map[string]any{"site": "moor", "kinds": []string{"act_now"}}}}).is(422)
	b.welcome(codeOf(t, ada.Link), goodPassword).is(200)
	v := b.visit("ada", goodPassword)
	v.do("GET", "/v1/sites/quay/setup", nil).is(200)
	v.do("GET", "/v1/sites/moor/setup", nil).is(404)
	require.Contains(t, string(b.as(region, "GET", "/v1/sessions", nil).is(200).body), `"Ada"`)

	// A deleted site leaves its groups.
	b.do(call{method: "DELETE", path: "/v1/sites/quay?confirm=quay"}).is(204)
	b.as(region, "GET", "/v1/sites/quay/setup", nil).is(404)
	require.Equal(t, http.StatusOK, b.as(region, "GET", "/v1/groups/north", nil).is(200).status)
	require.NotContains(t, string(b.get("/v1/groups/north").body), "quay")
}
