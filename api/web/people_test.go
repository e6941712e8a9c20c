package web_test

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

const goodPassword = "the tide is high at half past three"

// apart opens a page in a separate browser context without shared cookies.
func apart(t *testing.T, ctx context.Context, address string) *tab {
	t.Helper()
	own, cancel := chromedp.NewContext(ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	require.NoError(t, chromedp.Do(own, chromedp.Navigate("about:blank")))
	return open(t, own, address)
}

// goes clicks a form's button and waits for the next page.
func (b *tab) goes(button string) {
	b.t.Helper()
	b.eval(`(() => { document.body.dataset.before = "yes"; return ""; })()`)
	b.click(button)
	b.until(`!document.body.dataset.before`)
}

// quietButRefused is quiet, except for 422 responses to invalid forms, which browsers log.
func (b *tab) quietButRefused() {
	b.t.Helper()
	b.mu.Lock()
	b.errors = slices.DeleteFunc(b.errors, func(s string) bool { return strings.Contains(s, "422 (Unprocessable Entity)") })
	b.mu.Unlock()
	b.quiet()
}

func TestInvitedPersonSignsInOnAPhone(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	manager := open(t, ctx, s.base+"/sign-in")
	manager.signIn(s)
	manager.click(".menu summary")
	manager.click(`nav a[href="/s/lido/people"]`)
	manager.says("Access to Example Kiosk")
	manager.typeIn("#person-name", "Ada Brook")
	manager.typeIn("#person-sign-in", "Ada B")
	manager.goes("#accounts .fields .do")
	manager.says("Enter an e-mail address, or a short name")
	assert.Equal(t, "Ada Brook", manager.eval(`document.getElementById("person-name").value`), "the input is kept")
	manager.eval(`(() => { document.getElementById("person-sign-in").value = "ada@example.com"; return ""; })()`)
	manager.goes("#accounts .fields .do")
	manager.says("it’s shown only once")
	link := manager.eval(`document.querySelector("#accounts .secret").textContent`)
	require.True(t, strings.HasPrefix(link, s.base+"/welcome?code="), link)
	manager.says("Link not used yet")

	phone := apart(t, ctx, link)
	require.NoError(t, chromedp.Do(phone.ctx, chromedp.EmulateViewport(320, 640, chromedp.EmulateMobile, chromedp.EmulateTouch)))
	phone.says("Ada Brook, choose a password.")
	phone.typeIn("#password", "password password")
	phone.goes("button.do")
	phone.says("Choose a longer password")
	phone.typeIn("#password", goodPassword)
	phone.click("button.do")
	phone.until(`location.pathname === "/s/lido/kitchen"`)
	phone.goTo(link)
	phone.says("This link is used or too old")
	phone.goTo(s.base + "/account")
	phone.says("Signed in as Ada Brook.")
	phone.typeIn("#old", goodPassword)
	phone.typeIn("#password", "another tide comes in the morning")
	phone.goes("form.signin .do")
	phone.says("Password changed.")
	phone.click("button.quiet")
	phone.until(`location.pathname === "/sign-in"`)
	phone.typeIn("#name", "ada@example.com")
	phone.typeIn("#key", goodPassword)
	phone.goes("button.do")
	phone.says("Wrong name or password")
	phone.typeIn("#key", "another tide comes in the morning")
	phone.click("button.do")
	phone.until(`location.pathname === "/s/lido/kitchen"`)
	assert.Equal(t, http.StatusForbidden, statusOf(phone, "/s/lido/people"), "kitchen staff cannot manage access")

	// A removed person is signed out at once.
	manager.goTo(s.base + "/s/lido/people")
	manager.says("chose a password (Ada Brook).")
	manager.click("#accounts .entries .sure summary")
	manager.click(`#accounts .entries .sure input[value="sales"]`)
	manager.goes("#accounts .entries .sure .do")
	manager.says("changed Ada Brook (kitchen, sales).")
	manager.click("#accounts .entries form + .sure summary")
	manager.goes("#accounts .entries form + .sure .do")
	manager.says("removed Ada Brook.")
	phone.goTo(s.base + "/s/lido/kitchen")
	phone.until(`location.pathname === "/sign-in"`)
	manager.quietButRefused()
}

func statusOf(b *tab, path string) int {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[int]("fetch("+`"`+path+`"`+").then((a) => a.status)", chromedp.EvalAwaitPromise))
	require.NoError(b.t, err)
	return v
}

func TestScreenIsPairedChangedAndRevoked(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	manager := open(t, ctx, s.base+"/sign-in")
	manager.signIn(s)
	manager.goTo(s.base + "/s/lido/people")
	wall := apart(t, ctx, s.base+"/screen")
	require.NoError(t, chromedp.Do(wall.ctx, chromedp.EmulateViewport(1920, 1080)))
	wall.until(`/^[A-Z0-9]{3}\s[A-Z0-9]{3}$/.test(document.getElementById("code").textContent)`)
	assert.Equal(t, "true", wall.eval(`parseFloat(getComputedStyle(document.getElementById("code")).fontSize) >= 200`), "legible at three metres")
	code := wall.eval(`document.getElementById("code").textContent`)

	manager.typeIn("#code", "AAAAAA")
	manager.typeIn("#screen-name", "Over the bar")
	manager.goes("#screens .do")
	manager.until(`document.querySelector("#screens .wrong")?.textContent.includes("Enter the code that the screen shows now.")`)
	manager.eval(`(() => { document.getElementById("code").value = ""; return ""; })()`)
	manager.typeIn("#code", strings.ToLower(code))
	manager.click(`#screens input[value="left"]`)
	manager.goes("#screens .do")
	manager.says("paired the screen Over the bar.")
	wall.until(`location.pathname === "/s/lido/kitchen"`)
	list, err := s.store.Screens(context.Background())
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, []string{"left"}, list[0].Stations)

	manager.goTo(s.base + "/s/lido/people")
	manager.click("#screens .entries .sure summary")
	manager.click(`#screens .entries .sure input[value="water"]`)
	manager.goes("#screens .entries .sure .do")
	manager.says("changed the screen Over the bar.")
	manager.says("left, water")
	manager.click("#screens .entries .sure + .sure summary")
	manager.goes("#screens .entries .sure + .sure .do")
	manager.says("No screens yet.")
	wall.until(`location.pathname === "/screen" && document.getElementById("code").textContent.length === 7`)
	assert.NotEqual(t, code, wall.eval(`document.getElementById("code").textContent`))
	manager.quietButRefused()
}

func TestSecretsAreShownOnce(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	manager := open(t, ctx, s.base+"/sign-in")
	manager.signIn(s)
	page := s.base + "/s/lido/people"
	manager.goTo(page)
	manager.click("#keys details:not(.sure) summary")
	manager.typeIn("#key-name", "till")
	manager.click(`#keys input[value="sales"]`)
	manager.goes("#keys .fields .do")
	secret := manager.eval(`document.querySelector("#keys .secret").textContent`)
	token, err := s.store.TokenBySecret(context.Background(), secret, s.clock())
	require.NoError(t, err)
	assert.Equal(t, []string{models.ScopeSales}, token.Scopes)
	assert.Equal(t, site, token.Site)
	manager.goTo(page)
	assert.NotContains(t, manager.eval("document.body.textContent"), secret)

	manager.goes("#calendar .do")
	address := manager.eval(`document.querySelector("#calendar .secret").textContent`)
	answer, err := http.Get(address)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	assert.NotEqual(t, http.StatusUnauthorized, answer.StatusCode)

	manager.click("#webhooks details summary")
	manager.typeIn("#hook-url", "http://example.com/")
	manager.goes("#webhooks .fields .do")
	manager.says("Enter an https:// address")
	manager.eval(`(() => { document.getElementById("hook-url").value = "https://example.com/hotday"; return ""; })()`)
	manager.goes("#webhooks .fields .do")
	manager.says("whsec_")
	for _, width := range []int64{320, 390, 1920, 3840} {
		require.NoError(t, chromedp.Do(manager.ctx, chromedp.EmulateViewport(width, 800)))
		for _, path := range []string{"/s/lido/people", "/account", "/screen", "/sign-in"} {
			manager.goTo(s.base + path)
			assert.Equal(t, "true", manager.eval(`document.documentElement.scrollWidth <= innerWidth`), "%s at %d px scrolls sideways", path, width)
		}
	}
	manager.quietButRefused()
}

func TestFormsNeedTheCSRFToken(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	client := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	in, err := client.PostForm(s.base+"/sign-in", url.Values{"key": {s.key}})
	require.NoError(t, err)
	require.NoError(t, in.Body.Close())
	for _, path := range []string{"/s/lido/people/accounts-add", "/s/lido/people/keys-add", "/account/password"} {
		r, err := http.NewRequest(http.MethodPost, s.base+path, strings.NewReader(url.Values{"name": {"Eve"}, "sign_in": {"eve"}, "scope": {"manage"}}.Encode()))
		require.NoError(t, err)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Cookie", strings.Split(in.Header.Get("Set-Cookie"), ";")[0])
		answer, err := client.Do(r)
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		assert.Equal(t, http.StatusForbidden, answer.StatusCode, path)
	}
	people, err := s.store.People(context.Background())
	require.NoError(t, err)
	assert.Empty(t, people)
}
