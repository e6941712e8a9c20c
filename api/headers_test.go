package api_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whatever is answered, a browser is told to take it for what it is, to load nothing from elsewhere and to show it in no other site's frame.
func TestEveryAnswerHasTheSecurityHeaders(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	script := regexp.MustCompile(`/static/[^"]+\.js`).FindString(string(b.raw(call{method: "GET", path: "/sign-in", token: "-"}).body))
	require.NotEmpty(t, script)
	for _, path := range []string{"/sign-in", script, "/static/none", "/none", "/healthz", "/openapi", "/openapi.yaml", "/v1/sites", "/v1/sites/none/setup", "/s/quay/weekend", "/manifest.webmanifest"} {
		a := b.raw(call{method: "GET", path: path})
		policy := a.header.Get("Content-Security-Policy")
		for _, part := range []string{"default-src 'none'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
			require.Contains(t, policy, part, path)
		}
		require.NotContains(t, policy, "unsafe", path)
		require.Equal(t, "nosniff", a.header.Get("X-Content-Type-Options"), path)
		require.Equal(t, "same-origin", a.header.Get("Referrer-Policy"), path)
		require.Equal(t, "same-origin", a.header.Get("Cross-Origin-Resource-Policy"), path)
		require.Equal(t, "same-origin", a.header.Get("Cross-Origin-Opener-Policy"), path)
		require.Empty(t, a.header.Get("Access-Control-Allow-Origin"), path)
		kind := a.header.Get("Content-Type")
		if len(a.body) > 0 {
			require.NotEmpty(t, kind, path)
		}
		if strings.HasPrefix(kind, "text/") {
			require.Contains(t, strings.ToLower(kind), "charset=utf-8", path)
		}
		if !strings.HasPrefix(path, "/static/") && !strings.HasPrefix(path, "/openapi") {
			require.Equal(t, "no-store", a.header.Get("Cache-Control"), path)
		}
	}
}

func TestTraceAndOtherMethodsAreRefused(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	for _, method := range []string{http.MethodTrace, "TRACK", http.MethodOptions, "BREW"} {
		for _, path := range []string{"/", "/sign-in", "/v1/sites"} {
			a := b.raw(call{method: method, path: path, header: map[string]string{"X-Secret": "echo"}})
			require.Equal(t, 405, a.status, "%s %s", method, path)
			require.NotContains(t, string(a.body), "echo")
		}
	}
}

// What could be an attack can be found in the log by its kind, and nothing that was sent can begin a line of its own.
func TestTheLogSaysWhichProblemARequestWasAnsweredWith(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	for path, want := range map[string]string{"/v1/sites/quay/warnings?state=x%0Alevel=ERROR": "malformed", "/v1/sites/none/warnings": "not_found", "/v1/no%0Alevel=ERROR": "not_found"} {
		b.raw(call{method: "GET", path: path})
		line := b.lastLog()
		require.Equal(t, want, line["problem"], path)
		require.Equal(t, "INFO", line["level"], path)
	}
	b.do(call{method: "GET", path: "/v1/sites", token: "hotday_wrong"}).is(401)
	require.Equal(t, "unauthorised", b.lastLog()["problem"])
	b.get("/v1/sites").is(200)
	require.NotContains(t, b.lastLog(), "problem")
	require.NotContains(t, b.log.String(), "\nlevel=ERROR")
}

func TestAParameterGivenTwiceIsRefused(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.get("/v1/sites/quay/sales-counts?limit=1&limit=5000").is(400).named("/limit", "one value")
}
