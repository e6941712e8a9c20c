package api_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

func TestWebhookLifecycle(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	var hook struct{ ID, Secret string }
	b.post("/v1/webhooks", map[string]any{"url": "https://example.com/hotday", "events": []string{"warning.raised", "warning.raised"}, "site": "quay"}).is(201).into(&hook)
	require.True(t, strings.HasPrefix(hook.Secret, "whsec_"))
	list := b.get("/v1/webhooks").is(200)
	require.NotContains(t, string(list.body), hook.Secret)
	pier := b.newToken("pier", models.ScopeManage)
	require.NotContains(t, string(b.do(call{method: "GET", path: "/v1/webhooks", token: pier}).is(200).body), hook.ID)
	b.do(call{method: "DELETE", path: "/v1/webhooks/" + hook.ID, token: pier}).is(404)
	b.do(call{method: "GET", path: "/v1/webhooks/" + hook.ID + "/deliveries", token: pier}).is(404)

	// Deliveries are queued in the transaction of the event.
	warn := models.OpenWarning{Key: "ice", Warning: models.Warning{Kind: models.WarnIceShort, Grade: models.GradeActNow, At: b.clock.Now(), Cause: "No ice.", Fields: []string{}, Fixes: []models.Fix{}}}
	require.NoError(t, b.store.Within(t.Context(), func(tx models.Store) error {
		opened, err := tx.SyncWarnings(t.Context(), "quay", []string{models.WarnIceShort}, []models.OpenWarning{warn}, b.clock.Now())
		if err != nil {
			return err
		}
		_, err = tx.AddEvent(t.Context(), models.LiveEvent{Site: "quay", Kind: "warning", At: b.clock.Now(), Data: []byte(`{"opened":["` + opened[0].ID + `"]}`)})
		return err
	}))
	var deliveries struct{ Rows []models.Delivery }
	b.get("/v1/webhooks/" + hook.ID + "/deliveries").is(200).into(&deliveries)
	require.Len(t, deliveries.Rows, 1)
	require.Equal(t, models.DeliveryWaiting, deliveries.Rows[0].State)
	require.Contains(t, string(deliveries.Rows[0].Body), "No ice.")
	replay := "/v1/webhooks/" + hook.ID + "/deliveries/" + deliveries.Rows[0].ID + "/replay"
	b.do(call{method: "POST", path: replay}).is(409) // it is already waiting
	d := deliveries.Rows[0]
	d.State, d.Attempts, d.NextAt = models.DeliveryFailed, 8, nil
	require.NoError(t, b.store.Tried(t.Context(), d))
	b.do(call{method: "POST", path: replay, token: pier}).is(404)
	b.do(call{method: "POST", path: replay}).is(200).into(&d)
	require.Equal(t, models.DeliveryWaiting, d.State)
	require.Zero(t, d.Attempts)
	b.do(call{method: "POST", path: "/v1/webhooks/" + hook.ID + "/deliveries/none/replay"}).is(404)

	b.do(call{method: "DELETE", path: "/v1/webhooks/" + hook.ID}).is(204)
	b.get("/v1/webhooks/" + hook.ID + "/deliveries").is(404)
}

func TestWebhookURLsMustBePublicHTTPSUnlessPrivateIsAllowed(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	open := newBundle(t, func(c *api.Config) { c.PrivateWebhooks = true })
	add := func(b *bundle, address string) answer {
		return b.post("/v1/webhooks", map[string]any{"url": address, "events": []string{"task.marked"}})
	}
	for _, address := range []string{"http://example.com/", "https://localhost/", "https://LOCALHOST./", "https://127.0.0.1/", "https://10.1.2.3/", "https://192.168.1.1:8443/x",
		"https://169.254.169.254/latest", "https://[::1]/", "https://[fd00::1]/", "https://[fe80::1]/", "https://[::ffff:10.0.0.1]/", "https://0.0.0.0/", "https://100.64.0.1/"} {
		add(b, address).is(422).named("/url", "https")
		add(open, address).is(201)
	}
	for _, address := range []string{"example.com", "ftp://example.com/", "https:///x", "https://a:b@example.com/", "https://example.com/#x", "javascript:alert(1)", "https://%zz/"} {
		add(b, address).is(422).named("/url", "")
		add(open, address).is(422).named("/url", "")
	}
	add(b, "https://8.8.8.8/x?y=z").is(201)
	listed := newBundle(t, func(c *api.Config) { c.OutsideHosts = []string{"hooks.example.com"} })
	add(listed, "https://hooks.example.com/x").is(201)
	add(listed, "https://example.com/x").is(422).named("/url", "hooks.example.com")
	b.post("/v1/webhooks", map[string]any{"url": "https://example.com", "events": []string{}}).is(422).named("/events", "at least 1")
	b.post("/v1/webhooks", map[string]any{"url": "https://example.com", "events": []string{"all"}}).is(422).named("/events/0", "task.marked")
	b.do(call{method: "POST", path: "/v1/webhooks", token: b.newToken("", models.ScopeKitchen), body: map[string]any{"url": "https://example.com", "events": []string{"task.marked"}}}).is(403)
}

func TestWebhookBodiesFollowTheContract(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	var hook struct{ ID string }
	b.post("/v1/webhooks", map[string]any{"url": "https://example.com/hotday", "events": models.HookEvents, "site": "quay"}).is(201).into(&hook)
	const site = "/v1/sites/quay"
	b.put(site+"/expected-demand", rowsOf(map[string]any{"date": "2026-07-10", "day_part": "afternoon", "drink": "iced", "expected": 40})).is(200)
	b.put(site+"/item-mappings", map[string]any{"mappings": []any{map[string]any{"source": "till", "item": "42", "drink": "iced"}}}).is(200)
	now := b.clock.Now().Format(time.RFC3339)
	b.post(site+"/plans", map[string]any{"from": "2026-07-10", "days": 1}).is(201)
	b.post(site+"/plans/latest/publish", map[string]any{}).is(200)
	var sheet models.PrepSheet
	b.get(site + "/prep-sheets/2026-07-10").is(200).into(&sheet)
	b.post("/v1/tasks/"+sheet.Tasks[0].ID+"/marks", map[string]any{"state": "made", "at": now, "key": "k"}).is(200)
	b.post(site+"/off-sale", rowsOf(map[string]any{"drink": "iced", "from": now, "to": nil})).is(200)
	b.clock.advance(time.Hour)
	b.post(site+"/off-sale", rowsOf(map[string]any{"drink": "iced", "from": now, "to": b.clock.Now().Format(time.RFC3339)})).is(200)
	acked := b.clock.Now()
	warn := models.OpenWarning{Key: "ice", AckedAt: &acked, Warning: models.Warning{Kind: models.WarnIceShort, Grade: models.GradeActNow, At: b.clock.Now(), Cause: "No ice.", Fields: []string{}, Fixes: []models.Fix{}}}
	require.NoError(t, b.store.Within(t.Context(), func(tx models.Store) error {
		opened, err := tx.SyncWarnings(t.Context(), "quay", []string{models.WarnIceShort}, []models.OpenWarning{warn}, b.clock.Now())
		if err != nil {
			return err
		}
		_, err = tx.AddEvent(t.Context(), models.LiveEvent{Site: "quay", Kind: "warning", At: b.clock.Now(), Data: []byte(`{"opened":["` + opened[0].ID + `"]}`)})
		return err
	}))

	doc := strictContract()
	var described []string
	for event := range doc.Webhooks {
		described = append(described, event)
	}
	require.ElementsMatch(t, models.HookEvents, described)
	var deliveries struct{ Rows []models.Delivery }
	b.get("/v1/webhooks/" + hook.ID + "/deliveries").is(200).into(&deliveries)
	var sent []string
	validating.Lock()
	defer validating.Unlock()
	for _, d := range deliveries.Rows {
		sent = append(sent, d.Event)
		var body any
		require.NoError(t, json.Unmarshal(d.Body, &body))
		schema := doc.Webhooks[d.Event].Post.RequestBody.Value.Content.Get("application/json").Schema.Value
		require.NoError(t, schema.VisitJSON(body), "%s", d.Body)
		require.Equal(t, []any{d.Event}, schema.Properties["type"].Value.Enum)
	}
	require.ElementsMatch(t, models.HookEvents, sent, "one of each")
}
