package web_test

import (
	"crypto/ecdh"
	"crypto/rand"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	cdpbrowser "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// person is somebody with a password.
func (s *shop) person(t *testing.T, signIn string, scopes ...string) models.Person {
	t.Helper()
	p, code, err := s.store.AddPerson(t.Context(), models.Person{Name: "Ada Brook", SignIn: signIn, Scopes: scopes, Site: site}, s.clock())
	require.NoError(t, err)
	v := &visitor{t: t, s: s, http: &http.Client{Jar: jar(t)}}
	v.csrf = hidden(v.get("/welcome?code="+code), "csrf")
	status, _ := v.post("/welcome", url.Values{"code": {code}, "password": {goodPassword}})
	require.Equal(t, http.StatusOK, status)
	return p
}

func (s *shop) visitAs(t *testing.T, name string) *visitor {
	t.Helper()
	v := &visitor{t: t, s: s, http: &http.Client{Jar: jar(t)}}
	v.csrf = hidden(v.get("/sign-in"), "csrf")
	v.post("/sign-in", url.Values{"name": {name}, "key": {goodPassword}})
	v.csrf = hidden(v.get("/account"), "csrf")
	return v
}

// device turns notifications on on a device of a person.
func (s *shop) device(t *testing.T, p models.Person, endpoint string) models.PushDevice {
	t.Helper()
	d, _, err := s.store.AddPushDevice(t.Context(), models.PushDevice{Person: p.ID, Site: site, Endpoint: "https://push.example/" + endpoint, Browser: "Mozilla/5.0 (Android) Firefox/130", CreatedAt: s.clock()})
	require.NoError(t, err)
	return d
}

func TestNotificationsAreChosenUnderAccessAndRemovedByTheirOwner(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	p := s.person(t, "ada", models.ScopeKitchen)
	first, second := s.device(t, p, "1"), s.device(t, p, "2")
	ada := s.visitAs(t, "ada")
	page := html.UnescapeString(ada.get("/account"))
	public, _, err := s.store.PushKey(t.Context(), s.clock())
	require.NoError(t, err)
	for _, want := range []string{"Notifications on this device", "They need HTTPS", "Example Kiosk", `data-key="` + public + `"`, "Firefox on Android", first.ID + " " + second.ID,
		"Prep sheet, the evening before · Warnings to act on now · Warnings to act on today"} {
		require.Contains(t, page, want)
	}
	require.NotContains(t, page, "push.example")

	manager := s.visit(t)
	page = manager.get("/s/lido/people")
	require.Contains(t, page, "Notifications on 2 devices.")
	status, page := manager.post("/s/lido/people/accounts-push", url.Values{"id": {p.ID}, "kind": {models.MailActNow, "nonsense"}})
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, html.UnescapeString(page), "changed the notifications of Ada Brook (lido: act_now).")
	page = ada.get("/account")
	require.Contains(t, page, "Warnings to act on now")
	require.NotContains(t, page, "Warnings to act on today")
	manager.post("/s/lido/people/accounts-push", url.Values{"id": {p.ID}})
	require.Contains(t, ada.get("/account"), "Nothing chosen.")

	// Only managers choose, and nobody removes another's device.
	status, _ = ada.post("/s/lido/people/accounts-push", url.Values{"id": {p.ID}, "kind": models.PushKinds})
	require.Equal(t, http.StatusForbidden, status)
	ben := s.visitWith(t, site, models.ScopeKitchen)
	status, _ = ben.post("/account/device", url.Values{"id": {first.ID}})
	require.Equal(t, http.StatusNotFound, status)
	require.NotContains(t, ben.get("/account"), "Notifications on this device", "an access key gets none")

	status, page = ada.post("/account/device", url.Values{"id": {first.ID}})
	require.Equal(t, http.StatusOK, status)
	require.NotContains(t, page, first.ID)
	ada.csrf = "wrong"
	status, _ = ada.post("/account/device", url.Values{"id": {second.ID}})
	require.Equal(t, http.StatusForbidden, status)
	status, page = manager.post("/s/lido/people/accounts-device", url.Values{"id": {second.ID}})
	require.Equal(t, http.StatusOK, status)
	require.Contains(t, page, "turned notifications off on a device of Ada Brook.")
	set, err := s.store.PushSettings(t.Context(), p.ID)
	require.NoError(t, err)
	require.Empty(t, set.Devices)
}

// fakePush stands in for the push service, which Chromium reaches on the internet only: the browser's own subscription.
const fakePush = `(() => { let current = null;
	PushManager.prototype.getSubscription = async () => current;
	PushManager.prototype.subscribe = async (options) => {
		if (!options.userVisibleOnly || options.applicationServerKey.length !== 87) throw new Error("no options");
		return current = { toJSON: () => ({ endpoint: "https://push.example/browser", expirationTime: null, keys: { p256dh: "%s", auth: "BTBZMqHH6r4Tts7J_aSIgg" } }), unsubscribe: async () => { current = null; return true; } };
	}; return ""; })()`

func (b *tab) permit(t *testing.T, s *shop) {
	t.Helper()
	_, err := chromedp.CallBrowser(b.ctx, cdpbrowser.SetPermission, cdpbrowser.SetPermissionParams{Permission: &cdpbrowser.PermissionDescriptor{Name: "notifications"}, Setting: cdpbrowser.PermissionSettingGranted, Origin: s.base})
	require.NoError(t, err)
}

func TestNotificationsAreTurnedOnAndOffWithOneTap(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	p := s.person(t, "ada", models.ScopeKitchen)
	b := open(t, ctx, s.base+"/sign-in")
	b.permit(t, s)
	b.typeIn("#name", "ada")
	b.typeIn("#key", goodPassword)
	b.goes("button.do")
	b.goTo(s.base + "/account")
	b.until(`!document.querySelector("[data-notify] button").hidden && document.getElementById("notify-not").hidden`)
	b.says("Off.")
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	require.NoError(t, err)
	b.eval(fmt.Sprintf(fakePush, base64.RawURLEncoding.EncodeToString(key.PublicKey().Bytes())))
	b.eval(`(() => { document.querySelector("[data-notify] button").click(); return ""; })()`)
	b.until(`document.querySelector("[data-notify] .state").textContent === "On."`)
	assert.Equal(t, "Turn off notifications of Example Kiosk on this device", b.eval(`document.querySelector("[data-notify] button").getAttribute("aria-label")`))
	set, err := s.store.PushSettings(t.Context(), p.ID)
	require.NoError(t, err)
	require.Len(t, set.Devices, 1)
	require.Equal(t, "https://push.example/browser", set.Devices[0].Endpoint)
	b.eval(`(() => { document.querySelector("[data-notify] button").click(); return ""; })()`)
	b.until(`document.querySelector("[data-notify] .state").textContent === "Off."`)
	set, err = s.store.PushSettings(t.Context(), p.ID)
	require.NoError(t, err)
	require.Empty(t, set.Devices)
	b.quiet()
}

func TestTheServiceWorkerShowsANotificationOnce(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.permit(t, s)
	b.signIn(s)
	b.until(`navigator.serviceWorker.controller`)
	id := make(chan string, 1)
	require.NoError(t, chromedp.Listen(b.ctx, func(event any) {
		if e, ok := event.(*serviceworker.EventWorkerRegistrationUpdated); ok {
			for _, r := range e.Registrations {
				if strings.HasSuffix(r.ScopeURL, "/s/lido/") {
					select {
					case id <- string(r.RegistrationID):
					default:
					}
				}
			}
		}
	}))
	_, err := chromedp.Call(b.ctx, serviceworker.Enable, cdp.Empty{})
	require.NoError(t, err)
	registration := <-id
	for _, body := range []string{"Out of ice at 15:00", "Out of ice at 14:00"} { // the second attempt replaces the first
		note, err := json.Marshal(map[string]string{"id": "push_1", "lang": "en", "heading": "Act now · Example Kiosk", "body": body, "page": "weekend", "settings": "Notification settings"})
		require.NoError(t, err)
		want := `[["Act now · Example Kiosk","` + body + `","push_1","weekend","en"]]`
		for shown := ""; shown != want; { // the browser may not yet have what it needs when it is told to deliver
			_, err = chromedp.Call(b.ctx, serviceworker.DeliverPushMessage, serviceworker.DeliverPushMessageParams{Origin: s.base, RegistrationID: serviceworker.RegistrationID(registration), Data: string(note)})
			require.NoError(t, err)
			time.Sleep(50 * time.Millisecond)
			shown, err = chromedp.Run(b.ctx, chromedp.Evaluate[string](`navigator.serviceWorker.ready.then((r) => r.getNotifications()).then((list) => JSON.stringify(list.map((n) => [n.title, n.body, n.tag, n.data, n.lang])))`, chromedp.EvalAwaitPromise))
			require.NoError(t, err)
		}
	}
	b.quiet()
}
