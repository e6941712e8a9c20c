package api_test

import (
	"crypto/ecdh"
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

// subscription is what a browser posts, with a key pair that nobody keeps.
func subscription(t testing.TB, endpoint string) map[string]any {
	t.Helper()
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	require.NoError(t, err)
	return map[string]any{"endpoint": endpoint, "keys": map[string]any{"p256dh": base64.RawURLEncoding.EncodeToString(key.PublicKey().Bytes()), "auth": "BTBZMqHH6r4Tts7J_aSIgg"}}
}

// signedUp is a person who has signed in.
func (b *bundle) signedUp(name, site string, scopes ...string) (id string, v *visitor) {
	b.t.Helper()
	id, code := b.invite(map[string]any{"name": name, "sign_in": strings.ToLower(name), "scopes": scopes, "site": site})
	b.welcome(code, goodPassword).is(200)
	return id, b.visit(strings.ToLower(name), goodPassword)
}

func TestAPersonTurnsNotificationsOnAndOff(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	id, ada := b.signedUp("Ada", "quay", "kitchen")
	_, ben := b.signedUp("Ben", "quay", "kitchen")
	var key struct{ Key string }
	ada.do("GET", "/v1/push-key", nil).is(200).into(&key)
	point, err := base64.RawURLEncoding.DecodeString(key.Key)
	require.NoError(t, err)
	_, err = ecdh.P256().NewPublicKey(point)
	require.NoError(t, err)

	const path = "/v1/sites/quay/push-devices"
	body := subscription(t, "https://push.example.com/send/1")
	var d models.PushDevice
	a := ada.do("POST", path, body).is(201).into(&d)
	require.NotContains(t, string(a.body), "push.example.com", "nobody reads the endpoint")
	require.Equal(t, id, d.Person)
	ada.do("POST", path, body).is(200)
	require.Contains(t, b.audit(), `"push_on"`)
	stored, err := b.store.PushDevice(t.Context(), d.ID)
	require.NoError(t, err)
	require.Equal(t, b.base, stored.Origin)

	var set models.PushSettings
	a = b.get("/v1/people/" + id + "/push").is(200).into(&set)
	require.Len(t, set.Devices, 1)
	require.NotContains(t, string(a.body), "push.example.com")

	ben.do("DELETE", "/v1/push-devices/"+d.ID, nil).is(404)
	b.do(call{method: "DELETE", path: "/v1/push-devices/" + d.ID, token: b.newToken("pier", "manage")}).is(404)
	ada.do("DELETE", "/v1/push-devices/"+d.ID, nil).is(204)
	ada.do("DELETE", "/v1/push-devices/"+d.ID, nil).is(404)
	require.Equal(t, "Ada", b.entries()[0].By)
	require.Equal(t, models.AuditPushOff, b.entries()[0].Action)
	ada.do("POST", path, body).is(201).into(&d)
	b.do(call{method: "DELETE", path: "/v1/push-devices/" + d.ID, token: b.newToken("quay", "manage")}).is(204)

	// Without the CSRF token, at another site, as an access key: no.
	b.do(call{method: "POST", path: path, token: "-", body: body, header: map[string]string{"Cookie": ada.cookie}}).is(403)
	ada.do("POST", "/v1/sites/pier/push-devices", body).is(404)
	b.post(path, body).is(409)
	for i := range models.PushDevicesPerPerson {
		ada.do("POST", path, subscription(t, fmt.Sprintf("https://push.example.com/many/%d", i))).is(201)
	}
	ada.do("POST", path, subscription(t, "https://push.example.com/many/more")).is(409)
}

func TestOnlyUsableSubscriptionsAreAccepted(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	_, ada := b.signedUp("Ada", "quay", "read")
	post := func(body map[string]any) answer { return ada.do("POST", "/v1/sites/quay/push-devices", body) }
	for _, endpoint := range []string{"http://push.example.com/1", "https://127.0.0.1/1", "https://localhost/1", "https://10.0.0.1/1", "https://[::1]/1", "https://ada:pw@push.example.com/1", "mailto:ada@example.com", "push"} {
		post(subscription(t, endpoint)).is(422).named("/endpoint", "https address")
	}
	bad := subscription(t, "https://push.example.com/1")
	bad["keys"] = map[string]any{"p256dh": "BCVx", "auth": "BTBZMqHH6r4Tts7J_aSIgg"}
	post(bad).is(422).named("/keys/p256dh", "P-256")
	bad = subscription(t, "https://push.example.com/1")
	bad["keys"].(map[string]any)["auth"] = "short"
	post(bad).is(422).named("/keys/auth", "16 bytes")
	post(map[string]any{"endpoint": "https://push.example.com/1"}).is(400).named("/keys", "")

	private := newBundle(t, func(c *api.Config) { c.PrivateWebhooks = true })
	private.setUp("quay")
	_, ada = private.signedUp("Ada", "quay", "read")
	ada.do("POST", "/v1/sites/quay/push-devices", subscription(t, "http://127.0.0.1:8080/1")).is(201)
}

func TestManagersChooseWhatDevicesShow(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	id, ada := b.signedUp("Ada", "quay", "kitchen")
	path := "/v1/people/" + id + "/push"
	choose := func(site string, kinds ...string) answer {
		return b.put(path, map[string]any{"subscriptions": []any{map[string]any{"site": site, "kinds": append([]string{}, kinds...)}}})
	}
	var set models.PushSettings
	choose("quay", "act_now", "act_now").is(200).into(&set)
	require.Equal(t, []string{"act_now"}, set.Kinds("quay"))
	require.Contains(t, b.audit(), "Ada (quay: act_now)")
	before := len(b.entries())
	choose("quay", "act_now").is(200)
	require.Len(t, b.entries(), before, "nothing has changed")
	choose("quay").is(200)
	require.Contains(t, b.audit(), "Ada (quay: nothing)")
	choose("quay", "weekly_review").is(422).named("/subscriptions/0/kinds/0", "")
	choose("nowhere", "sheet").is(422).named("/subscriptions/0/site", "")
	choose("pier", "sheet").is(422).named("/subscriptions/0/kinds", "scope")
	ada.do("PUT", path, map[string]any{"subscriptions": []any{}}).is(403)
	b.do(call{method: "GET", path: path, token: b.newToken("pier", "manage")}).is(404)

	choose("quay", "sheet").is(200)
	ada.do("POST", "/v1/sites/quay/push-devices", subscription(t, "https://push.example.com/1")).is(201)
	require.NoError(t, b.store.QueuePush(t.Context(), models.MailCause{Site: "quay", Kind: models.MailSheet, About: "2026-07-11", At: b.clock.Now(), Until: b.clock.Now().Add(1e12)}))
	var log struct{ Rows []models.Push }
	b.get(path + "/log").is(200).into(&log)
	require.Len(t, log.Rows, 1)
	require.Equal(t, models.DeliveryWaiting, log.Rows[0].State)
	b.do(call{method: "DELETE", path: "/v1/people/" + id}).is(204)
	b.get(path).is(404)
}
