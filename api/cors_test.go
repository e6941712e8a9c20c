package api_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/api"
)

func TestPagesOfAllowedOriginsUseTheAPIWithAKeyOnly(t *testing.T) {
	t.Parallel()
	const app, stranger = "https://app.example.com", "https://other.example.com"
	off, b := newBundle(t), newBundle(t, func(c *api.Config) { c.CORSOrigins = []string{app} })
	from := func(b *bundle, method, origin, token, path string, header ...string) answer {
		h := map[string]string{"Origin": origin, "Sec-Fetch-Site": "cross-site"}
		for i := 0; i < len(header); i += 2 {
			h[header[i]] = header[i+1]
		}
		return b.raw(call{method: method, path: path, token: token, header: h})
	}
	allowed := func(a answer) string {
		require.Empty(t, a.header.Get("Access-Control-Allow-Credentials"), "never cookies")
		return a.header.Get("Access-Control-Allow-Origin")
	}
	preflight := []string{"Access-Control-Request-Method", "PUT", "Access-Control-Request-Headers", "authorization,content-type"}

	a := from(b, "OPTIONS", app, "-", "/v1/sites", preflight...).is(204)
	require.Equal(t, app, allowed(a))
	require.Contains(t, a.header.Get("Access-Control-Allow-Methods"), "PUT")
	require.Contains(t, a.header.Get("Access-Control-Allow-Headers"), "Authorization")
	a = from(b, "GET", app, "", "/v1/sites").is(200)
	require.Equal(t, app, allowed(a))
	require.Contains(t, a.header.Values("Vary"), "Origin")
	require.Contains(t, a.header.Get("Access-Control-Expose-Headers"), "Retry-After")
	require.Equal(t, app, allowed(from(b, "GET", app, "hotday_wrong", "/v1/sites").is(401)), "the page can read the problem")

	require.Empty(t, allowed(from(b, "OPTIONS", stranger, "-", "/v1/sites", preflight...)))
	require.Empty(t, allowed(from(b, "GET", stranger, "", "/v1/sites").is(200)))
	require.Empty(t, allowed(from(b, "OPTIONS", app, "-", "/account", preflight...)), "pages are not part of it")
	require.Empty(t, allowed(from(off, "OPTIONS", app, "-", "/v1/sites", preflight...)))
	require.Empty(t, allowed(from(off, "GET", app, "", "/v1/sites").is(200)), "off by default")

	signedIn := b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201)
	cookie := (&http.Response{Header: signedIn.header}).Cookies()[0]
	require.Empty(t, allowed(from(b, "GET", app, "-", "/v1/sites", "Cookie", cookie.Name+"="+cookie.Value)))
	from(b, "POST", app, "-", "/v1/session").is(403)
}
