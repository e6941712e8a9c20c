package web_test

import (
	"encoding/json"
	"image/png"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

func getWithoutKey(t *testing.T, address string) *http.Response {
	t.Helper()
	answer, err := http.Get(address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = answer.Body.Close() })
	return answer
}

// A browser asks for the manifest without a session. What it names is there: each icon has its size, the start page is a page.
func TestManifestNamesWhatThereIs(t *testing.T) {
	t.Parallel()
	s := newShop(t)
	for address, start := range map[string]string{"/manifest.webmanifest": "/", "/s/lido/manifest.webmanifest": "/s/lido/weekend",
		"/s/lido/manifest.webmanifest?page=kitchen": "/s/lido/kitchen", "/s/lido/manifest.webmanifest?page=review": "/s/lido/weekend"} {
		answer := getWithoutKey(t, s.base+address)
		require.Equal(t, http.StatusOK, answer.StatusCode, address)
		assert.Equal(t, "application/manifest+json", answer.Header.Get("Content-Type"))
		var m struct {
			ID        string `json:"id"`
			Name      string `json:"name"`
			ShortName string `json:"short_name"`
			StartURL  string `json:"start_url"`
			Scope     string `json:"scope"`
			Display   string `json:"display"`
			Icons     []struct{ Src, Sizes, Type, Purpose string }
		}
		require.NoError(t, json.Unmarshal([]byte(body(t, answer)), &m))
		assert.Equal(t, start, m.StartURL)
		assert.Equal(t, start, m.ID)
		assert.Equal(t, "standalone", m.Display)
		assert.Equal(t, "/", m.Scope)
		assert.Contains(t, m.Name, "hotday")
		assert.LessOrEqual(t, len(m.ShortName), 12, "a longer name is cut below an icon")
		assert.NotContains(t, m.Name, "Lido", "nothing of the site but its code")
		assert.Equal(t, http.StatusOK, s.get(t, s.key, m.StartURL).StatusCode)
		maskable, sizes := false, []string{}
		for _, icon := range m.Icons {
			picture := getWithoutKey(t, s.base+icon.Src)
			require.Equal(t, http.StatusOK, picture.StatusCode, icon.Src)
			assert.Equal(t, icon.Type, picture.Header.Get("Content-Type"))
			maskable = maskable || icon.Purpose == "maskable"
			if icon.Type == "image/png" {
				size, err := png.DecodeConfig(picture.Body)
				require.NoError(t, err)
				assert.Equal(t, icon.Sizes, strconv.Itoa(size.Width)+"x"+strconv.Itoa(size.Height), icon.Src)
				sizes = append(sizes, icon.Sizes)
			}
		}
		assert.True(t, maskable)
		assert.Subset(t, sizes, []string{"192x192", "512x512"})
	}
	page := body(t, s.get(t, s.key, "/s/lido/kitchen"))
	assert.Contains(t, page, `<link rel="manifest" href="/s/lido/manifest.webmanifest?page=kitchen">`)
	assert.Equal(t, 2, strings.Count(page, `<meta name="theme-color"`)) //nolint:misspell // the name is HTML's
}

// Without a network a page that was kept says how old it is, any other gives way to one that says what there is, and after signing out
// nothing of the site is left.
func TestPagesWithoutANetwork(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	b := open(t, ctx, s.base+"/sign-in")
	b.signIn(s)
	b.until(`navigator.serviceWorker.controller`)
	b.goTo(s.base + "/s/lido/count") // now by way of the worker
	b.until(`caches.open("hotday./s/lido/count").then((c) => c.match("/s/lido/count")).then(Boolean)`)
	b.until(`caches.match("/s/lido/offline").then(Boolean)`)

	s.cut.Store(true)
	b.goTo(s.base + "/s/lido/count")
	b.says("No network. This page is from 0 minutes ago.")
	b.says("Count")
	b.goTo(s.base + "/s/lido/review")
	b.says("No network")
	b.until(`document.querySelector('[data-page=count]').checkVisibility() && !document.querySelector('[data-page=kitchen]').checkVisibility()`)
	b.says("The server last answered 0 minutes ago.")
	assert.Equal(t, "/s/lido/count", b.eval(`new URL(document.querySelector('[data-page=count] a').href).pathname`))
	assert.Contains(t, b.eval(`getComputedStyle(document.body).fontFamily`), "Sofia Sans", "its style sheet is kept too")

	s.cut.Store(false)
	b.eval(`dispatchEvent(new Event("online"))`)
	b.until(`location.pathname === "/s/lido/review" && document.body.matches(".review")`)
	b.eval(`document.querySelector("form.signout").requestSubmit()`)
	b.until(`location.pathname === "/sign-in"`)
	b.until(`caches.keys().then((names) => !names.some((name) => name.startsWith("hotday./")))`)
	s.cut.Store(true)
	b.goTo(s.base + "/s/lido/count")
	b.says("No network")
	assert.NotContains(t, b.eval(`document.body.innerText`), "Lido")
}

// Who may no longer see a page has none of it kept either.
func TestAPageThatIsRefusedIsNotKept(t *testing.T) {
	t.Parallel()
	ctx := browser(t)
	s := newShop(t)
	token, key, err := s.store.AddToken(t.Context(), models.Token{Name: "counter", Scopes: []string{models.ScopeKitchen}, Site: site}, s.clock())
	require.NoError(t, err)
	b := open(t, ctx, s.base+"/sign-in")
	b.typeIn("#key", key)
	b.click("button.do")
	b.until(`location.pathname === "/s/lido/kitchen" && navigator.serviceWorker.controller`)
	b.goTo(s.base + "/s/lido/count")
	b.until(`caches.open("hotday./s/lido/count").then((c) => c.match("/s/lido/count")).then(Boolean)`)
	require.NoError(t, s.store.RevokeToken(t.Context(), token.ID, s.clock()))
	b.goTo(s.base + "/s/lido/count")
	b.until(`location.pathname === "/sign-in"`)
	b.until(`caches.keys().then((names) => !names.some((name) => name.startsWith("hotday./")))`)
}
