package api_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// withCookie is a request of a browser that has the cookie.
func withCookie(method, path, pair, proto string) call {
	return call{method: method, path: path, token: "-", header: map[string]string{"Cookie": pair, "X-Forwarded-Proto": proto}}
}

func cookieOf(h http.Header) (pair string) {
	pair, _, _ = strings.Cut(h.Get("Set-Cookie"), ";")
	return pair
}

func TestTheCookieOfHTTPSBelongsToThisHostAlone(t *testing.T) {
	t.Parallel()
	b := newBundle(t, behindProxy())
	in := b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}, header: map[string]string{"X-Forwarded-Proto": "https"}}).is(201)
	pair := cookieOf(in.header)
	require.True(t, strings.HasPrefix(pair, "__Host-hotday_session="), pair)
	for _, part := range []string{"Path=/", "HttpOnly", "Secure", "SameSite=Lax"} {
		require.Contains(t, in.header.Get("Set-Cookie"), part)
	}
	require.NotContains(t, in.header.Get("Set-Cookie"), "Domain")
	require.Equal(t, "max-age=31536000; includeSubDomains", in.header.Get("Strict-Transport-Security"))
	b.do(withCookie("GET", "/v1/session", pair, "https")).is(200)
	secret := strings.TrimPrefix(pair, "__Host-")
	b.do(withCookie("GET", "/v1/session", secret, "https")).is(401) // as another host of the domain could have set it
	b.do(withCookie("GET", "/v1/session", pair, "http")).is(401)

	plain := cookieOf(b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201).header)
	require.True(t, strings.HasPrefix(plain, "hotday_session="), "browsers refuse the prefix without HTTPS: %s", plain)
	b.do(withCookie("GET", "/v1/session", plain, "")).is(200)
}

func TestEveryCookieOverHTTPSHasThePrefix(t *testing.T) {
	t.Parallel()
	b := newBundle(t, behindProxy())
	b.setUp("quay")
	_, code := b.invite(map[string]any{"name": "ada", "sign_in": "ada", "scopes": []string{"kitchen"}, "site": "quay"})
	b.welcome(code, goodPassword).is(200)
	in := b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"sign_in": "ada", "password": goodPassword}, header: map[string]string{"X-Forwarded-Proto": "https"}}).is(201)
	require.NotEmpty(t, in.header.Values("Set-Cookie"))
	for _, cookie := range in.header.Values("Set-Cookie") {
		require.True(t, strings.HasPrefix(cookie, "__Host-"), cookie)
	}
}

func TestAScreenPairedByAnEarlierVersionStaysPaired(t *testing.T) {
	t.Parallel()
	b := newBundle(t, behindProxy())
	b.setUp("quay")
	p := b.beginPairing()
	b.pair(p.Code, "quay").is(201)
	old := cookieOf(b.claim(p, "session").is(200).header) // over HTTP the cookie still has that name
	got := b.do(withCookie("GET", "/v1/sites/quay/warnings", old, "https")).is(200)
	require.Equal(t, "__Host-"+old, cookieOf(got.header), "the same secret under the new name")
	b.do(withCookie("GET", "/v1/sites/quay/warnings", cookieOf(got.header), "https")).is(200)
}

func TestASessionThatIsNotUsedEnds(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	pair := cookieOf(b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201).header)
	list := func() []models.Session {
		var l struct{ Rows []models.Session }
		b.get("/v1/sessions").is(200).into(&l)
		return l.Rows
	}
	b.clock.advance(models.SessionIdle - time.Hour)
	b.do(withCookie("GET", "/v1/session", pair, "")).is(200) // used in time
	require.Equal(t, b.clock.Now().Add(models.SessionIdle), list()[0].ExpiresAt.UTC())
	b.clock.advance(models.SessionIdle)
	b.do(withCookie("GET", "/v1/session", pair, "")).is(401)
	require.Empty(t, list())
}

func TestASessionEndsAfterThirtyDaysHoweverItIsUsed(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	pair := cookieOf(b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201).header)
	for range 29 {
		b.clock.advance(24 * time.Hour)
		b.do(withCookie("GET", "/v1/session", pair, "")).is(200)
	}
	b.clock.advance(25 * time.Hour)
	b.do(withCookie("GET", "/v1/session", pair, "")).is(401)
}
