package api_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

func withMail(c *api.Config) { c.Mail = true }

// mailed is a person with an address at the site quay.
func (b *bundle) mailed(kinds ...string) (person models.Person, path string) {
	b.t.Helper()
	b.post("/v1/people", map[string]any{"name": "Ada Brook", "sign_in": "ada", "scopes": []string{"kitchen"}, "site": "quay"}).is(201).into(&person)
	path = "/v1/people/" + person.ID + "/mail"
	b.put(path, map[string]any{"address": "ada@example.com", "subscriptions": []any{map[string]any{"site": "quay", "kinds": kinds}}}).is(200)
	return person, path
}

// code is that of the newest confirmation.
func (b *bundle) code(person string) string {
	b.t.Helper()
	rows, err := b.store.MailLog(b.t.Context(), person, models.Page{Limit: 1})
	require.NoError(b.t, err)
	require.Equal(b.t, models.MailConfirm, rows.Rows[0].Kind)
	return rows.Rows[0].About
}

// stranger makes a request from a browser or mail program that nobody has signed in to.
func (b *bundle) stranger(method, path string, form url.Values) answer {
	b.t.Helper()
	return b.raw(call{method: method, path: path, token: "-", body: form.Encode(), header: map[string]string{"Content-Type": "application/x-www-form-urlencoded", "Accept-Language": "en"}})
}

func (b *bundle) audit() string { b.t.Helper(); return string(b.get("/v1/audit").is(200).body) }

func TestMailSettings(t *testing.T) {
	t.Parallel()
	b := newBundle(t, withMail)
	b.setUp("quay")
	b.setUp("pier")
	p, path := b.mailed("sheet", "act_now", "sheet")
	var set models.MailSettings
	read := b.get(path).is(200).into(&set)
	require.Equal(t, "ada@example.com", set.Address)
	require.Nil(t, set.ConfirmedAt)
	require.Equal(t, []models.MailSubscription{{Site: "quay", Kinds: []string{"sheet", "act_now"}}}, set.Subscriptions)
	require.Contains(t, b.audit(), "Ada Brook (ada@example.com; quay: sheet, act_now)")
	code := b.code(p.ID)
	require.NotContains(t, string(read.body), code)
	require.NotContains(t, string(b.get(path+"/log").is(200).body), code, "managers cannot confirm in a person's name")

	put := func(body map[string]any) answer { return b.put(path, body) }
	for _, address := range []string{"ada", "ada@example.com, eve@example.com", "Ada <ada@example.com>", "ada@example.com\r\nBcc: eve@example.com", "ada@localhost"} {
		put(map[string]any{"address": address}).is(422).named("/address", "one e-mail address")
	}
	sub := func(site string, kinds ...string) map[string]any {
		return map[string]any{"address": "ada@example.com", "subscriptions": []any{map[string]any{"site": site, "kinds": kinds}}}
	}
	put(sub("nowhere", "sheet")).is(422).named("/subscriptions/0/site", "")
	put(sub("pier", "sheet")).is(422).named("/subscriptions/0/kinds", "scope")
	put(sub("quay", "gossip")).is(422).named("/subscriptions/0/kinds/0", "")
	put(map[string]any{"address": nil, "subscriptions": sub("quay", "sheet")["subscriptions"]}).is(422).named("/address", "")
	twice := sub("quay", "sheet")
	twice["subscriptions"] = append(twice["subscriptions"].([]any), twice["subscriptions"].([]any)[0])
	put(twice).is(422).named("/subscriptions/1/site", "once")

	pier, kitchen := b.newToken("pier", models.ScopeManage), b.newToken("", models.ScopeKitchen)
	for method, at := range map[string]string{"GET": path, "PUT": path, "POST": path + "/confirmation"} {
		var body any
		if method == "PUT" {
			body = map[string]any{"address": "eve@example.com"}
		}
		b.do(call{method: method, path: at, token: pier, body: body}).is(404)
		b.do(call{method: method, path: at, token: kitchen, body: body}).is(403)
	}
	b.do(call{method: "GET", path: path + "/log", token: pier}).is(404)

	b.post(path+"/confirmation", map[string]any{}).is(204)
	require.NotEqual(t, code, b.code(p.ID))
	b.post(path+"/confirmation", map[string]any{}).is(204)
	b.post(path+"/confirmation", map[string]any{}).is(429)
	put(map[string]any{}).is(200)
	require.Contains(t, b.audit(), "Ada Brook (no address; quay: nothing)")
	b.post(path+"/confirmation", map[string]any{}).is(409)
}

func TestMailNeedsAMailServer(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	var p models.Person
	b.post("/v1/people", map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"kitchen"}, "site": "quay"}).is(201).into(&p)
	path := "/v1/people/" + p.ID + "/mail"
	require.Contains(t, string(b.put(path, map[string]any{"address": "ada@example.com"}).is(409).body), "--smtp")
	b.post(path+"/confirmation", map[string]any{}).is(409)
	b.get(path).is(200)
}

func TestAnAddressIsConfirmedByAButtonNotByOpeningALink(t *testing.T) {
	t.Parallel()
	b := newBundle(t, withMail)
	b.setUp("quay")
	p, path := b.mailed("sheet")
	code := b.code(p.ID)
	confirmed := func() bool {
		var set models.MailSettings
		b.get(path).is(200).into(&set)
		return set.ConfirmedAt != nil
	}
	page := b.stranger("GET", "/mail/confirm?code="+code, nil).is(200)
	require.Contains(t, string(page.body), "ada@example.com is to get:")
	require.Contains(t, string(page.body), "Prep sheet, the evening before")
	require.False(t, confirmed(), "mail programs open links by themselves")
	b.stranger("POST", "/mail/confirm", url.Values{"code": {"guess"}}).is(404)
	require.False(t, confirmed())
	require.Contains(t, string(b.stranger("POST", "/mail/confirm", url.Values{"code": {code}}).is(200).body), "Address confirmed")
	require.True(t, confirmed())
	require.Contains(t, string(b.stranger("GET", "/mail/confirm?code="+code, nil).is(200).body), "Address confirmed")
	require.Equal(t, 1, strings.Count(b.audit(), `"mail_confirmed"`))
	b.clock.advance(models.LinkTime)
	b.stranger("GET", "/mail/confirm?code="+code, nil).is(404)
}

func TestOneClickStopsMessages(t *testing.T) {
	t.Parallel()
	b := newBundle(t, withMail)
	b.setUp("quay")
	p, path := b.mailed("sheet", "act_now", "weekly_review")
	b.stranger("POST", "/mail/confirm", url.Values{"code": {b.code(p.ID)}}).is(200)
	require.NoError(t, b.store.QueueMail(t.Context(), models.MailCause{Site: "quay", Kind: models.MailSheet, About: "2026-07-11", At: b.clock.Now().Add(time.Minute), Until: b.clock.Now().Add(time.Hour)}))
	rows, err := b.store.MailLog(t.Context(), p.ID, models.Page{Limit: 1})
	require.NoError(t, err)
	_, token, err := b.store.Mail(t.Context(), rows.Rows[0].ID)
	require.NoError(t, err)
	link := "/mail/stop?token=" + url.QueryEscape(token)
	gets := func() []string {
		var set models.MailSettings
		b.get(path).is(200).into(&set)
		return set.Kinds("quay")
	}
	page := b.stranger("GET", link, nil).is(200)
	require.Contains(t, string(page.body), "Prep sheet, the evening before: to ada@example.com.")
	require.Equal(t, []string{"sheet", "act_now", "weekly_review"}, gets(), "opening the page stops nothing")
	require.Equal(t, "no-store", page.header.Get("Cache-Control"))

	// RFC 8058: the mail program posts this body, without cookies, and wants no redirect.
	done := b.stranger("POST", link, url.Values{"List-Unsubscribe": {"One-Click"}}).is(200)
	require.Contains(t, string(done.body), "no longer sent to ada@example.com")
	require.Equal(t, []string{"act_now", "weekly_review"}, gets())
	b.stranger("POST", link, url.Values{"List-Unsubscribe": {"One-Click"}}).is(200)
	require.Equal(t, 1, strings.Count(b.audit(), `"mail_stopped"`))
	require.Contains(t, string(b.stranger("GET", link, nil).is(200).body), "Stopped")

	require.Contains(t, string(b.stranger("POST", link, url.Values{"all": {"1"}}).is(200).body), "Nothing more is sent to ada@example.com.")
	require.Empty(t, gets())
	require.Equal(t, 3, strings.Count(b.audit(), `"mail_stopped"`))
}

func TestSecretsOfLinksCannotBeGuessed(t *testing.T) {
	t.Parallel()
	b := newBundle(t, withMail)
	for range 30 {
		b.stranger("POST", "/mail/stop?token=guess", nil)
	}
	for _, path := range []string{"/mail/stop?token=guess", "/mail/confirm?code=guess"} {
		b.stranger("GET", path, nil).is(http.StatusTooManyRequests)
	}
}

func TestTheAccessPageSetsMail(t *testing.T) {
	t.Parallel()
	b := newBundle(t, withMail)
	b.setUp("quay")
	p, path := b.mailed("sheet")
	form := func(name string, values url.Values) answer {
		t.Helper()
		values.Set("id", p.ID)
		return b.raw(call{method: "POST", path: "/s/quay/people/" + name, body: values.Encode(), header: map[string]string{"Content-Type": "application/x-www-form-urlencoded"}})
	}
	page := string(b.raw(call{method: "GET", path: "/s/quay/people"}).is(200).body)
	require.Contains(t, page, "E-mail: ada@example.com, not confirmed yet.")
	require.Regexp(t, `value="sheet" checked>`, page)
	require.NotRegexp(t, `value="weekly_review" checked>`, page)
	require.Contains(t, page, "<b>Waiting</b> Link to confirm the address")
	require.NotContains(t, page, b.code(p.ID))

	form("accounts-confirm", url.Values{})
	b.stranger("POST", "/mail/confirm", url.Values{"code": {b.code(p.ID)}}).is(200)
	page = string(form("accounts-mail", url.Values{"address": {"ada@example.com"}, "kind": {"weekly_review", "act_now"}}).is(200).body)
	require.Contains(t, page, "E-mail: ada@example.com.")
	require.Contains(t, page, "changed the e-mail of Ada Brook (quay: act_now, weekly_review).")
	require.Contains(t, page, "confirmed the address ada@example.com.")
	var set models.MailSettings
	b.get(path).is(200).into(&set)
	require.Equal(t, []string{"act_now", "weekly_review"}, set.Kinds("quay"))
	require.Contains(t, string(form("accounts-mail", url.Values{"address": {"ada"}}).is(422).body), "Enter one e-mail address.")
	require.Contains(t, string(form("accounts-mail", url.Values{"address": {""}}).is(200).body), "No e-mail.")

	off := newBundle(t)
	off.setUp("quay")
	require.Contains(t, string(off.raw(call{method: "GET", path: "/s/quay/people"}).is(200).body), "E-mail isn’t set up.")
}
