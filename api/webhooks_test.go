package api_test

import (
	"strings"
	"testing"

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
	warn := models.OpenWarning{Key: "ice", Warning: models.Warning{Kind: models.WarnIceShort, Grade: models.GradeActNow, At: b.clock.Now(), Cause: "No ice."}}
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
