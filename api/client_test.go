package api_test

import (
	"encoding/json"
	"net/http"
	"net/netip"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

// loopback is where tests connect from: trusting it makes each of their requests come through a proxy.
func behindProxy(more ...string) func(*api.Config) {
	return func(c *api.Config) {
		for _, p := range append([]string{"127.0.0.0/8", "::1/128"}, more...) {
			c.TrustedProxies = append(c.TrustedProxies, netip.MustParsePrefix(p))
		}
	}
}

// lastLog returns the last line of the request log.
func (b *bundle) lastLog() (line map[string]any) {
	b.t.Helper()
	lines := strings.Split(strings.TrimSpace(b.log.String()), "\n")
	for i := len(lines) - 1; i >= 0; i-- {
		require.NoError(b.t, json.Unmarshal([]byte(lines[i]), &line))
		if line["msg"] == "request" {
			return line
		}
	}
	require.Fail(b.t, "no request is logged")
	return nil
}

func TestClientsAddressIsTheLastHopThatIsNotATrustedProxy(t *testing.T) {
	t.Parallel()
	direct, proxied, chain := newBundle(t), newBundle(t, behindProxy()), newBundle(t, behindProxy("10.0.0.0/8", "fd00::/8"))
	for _, x := range []struct {
		name      string
		b         *bundle
		forwarded []string // lines of X-Forwarded-For
		want      string
	}{
		{"no proxy is trusted", direct, []string{"203.0.113.9"}, "127.0.0.1"},
		{"one proxy", proxied, []string{"203.0.113.9"}, "203.0.113.9"},
		{"a client that claims to be another", proxied, []string{"198.51.100.1, 203.0.113.9"}, "203.0.113.9"},
		{"a claim in a line of its own", proxied, []string{"198.51.100.1", "203.0.113.9"}, "203.0.113.9"},
		{"an inner proxy that is not trusted", proxied, []string{"203.0.113.9, 10.1.2.3"}, "10.1.2.3"},
		{"a chain of proxies", chain, []string{"198.51.100.1, 203.0.113.9, 10.1.2.3, fd00::7"}, "203.0.113.9"},
		{"only proxies", chain, []string{"10.1.2.3"}, "10.1.2.3"},
		{"with ports", chain, []string{"203.0.113.9:5123, [fd00::7]:443"}, "203.0.113.9"},
		{"IPv6", proxied, []string{"2001:db8::1"}, "2001:db8::1"},
		{"IPv4 in IPv6", proxied, []string{"::ffff:203.0.113.9"}, "203.0.113.9"},
		{"nonsense from the client", proxied, []string{"unknown, 203.0.113.9"}, "203.0.113.9"},
		{"nonsense from the proxy", proxied, []string{"203.0.113.9, unknown"}, "127.0.0.1"},
		{"no header", proxied, nil, "127.0.0.1"},
	} {
		req, err := http.NewRequest("GET", x.b.base+"/openapi.css", nil)
		require.NoError(t, err)
		req.Header["X-Forwarded-For"] = x.forwarded
		resp, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		require.NoError(t, resp.Body.Close())
		require.Equal(t, x.want, x.b.lastLog()["address"], x.name)
	}
}

func TestAStrangerBehindTheProxyLocksOutOnlyThemself(t *testing.T) {
	t.Parallel()
	b := newBundle(t, behindProxy())
	from := func(address, key string) answer {
		return b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": key}, header: map[string]string{"X-Forwarded-For": address}})
	}
	for range 20 {
		from("203.0.113.9", "hotday_guess").is(401)
	}
	from("203.0.113.9", "hotday_guess").is(429)
	from("203.0.113.9, 198.51.100.7", b.token).is(201) // another customer, who claims to be the stranger
	from("198.51.100.7", b.token).is(201)
	for range 20 {
		from("2001:db8::1", "hotday_guess").is(401)
	}
	from("2001:db8::2", "hotday_guess").is(429) // the same customer's network
	from("2001:db8:0:1::1", b.token).is(201)
}

func TestCookiesAreSecureWhereTheProxySaysHTTPS(t *testing.T) {
	t.Parallel()
	b, direct := newBundle(t, behindProxy()), newBundle(t)
	in := func(b *bundle, proto string) http.Header {
		return b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}, header: map[string]string{"X-Forwarded-Proto": proto}}).is(201).header
	}
	h := in(b, "https")
	require.Contains(t, h.Get("Set-Cookie"), "; Secure")
	require.NotEmpty(t, h.Get("Strict-Transport-Security"))
	for _, h := range []http.Header{in(b, "http"), in(b, ""), in(direct, "https")} {
		require.NotContains(t, h.Get("Set-Cookie"), "; Secure")
		require.Empty(t, h.Get("Strict-Transport-Security"))
	}
}

func TestRequestLogNamesTheCaller(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	a := b.do(call{method: "GET", path: "/v1/sites/quay/warnings", token: b.newToken("quay", models.ScopeRead), header: map[string]string{"X-Request-Id": "edge-7f.3"}}).is(200)
	require.Equal(t, "edge-7f.3", a.header.Get("X-Request-Id"))
	line := b.lastLog()
	require.Equal(t, "edge-7f.3", line["request_id"])
	require.Equal(t, "for the test", line["by"])
	require.Equal(t, "127.0.0.1", line["address"])
	require.Equal(t, "/v1/sites/:site/warnings", line["route"])
	require.EqualValues(t, 200, line["status"])
	require.Contains(t, line, "took")
	for _, id := range []string{"", " ", "a b", "x\"y", strings.Repeat("x", 101), "-flag"} {
		a := b.do(call{method: "GET", path: "/v1/sites", header: map[string]string{"X-Request-Id": id}}).is(200)
		require.Regexp(t, "^[0-9A-Z]{26}$", a.header.Get("X-Request-Id"), "%q is replaced", id)
	}
	b.do(call{method: "GET", path: "/v1/sites", token: "hotday_wrong"}).is(401)
	require.NotContains(t, b.lastLog(), "by")
}

func TestRequestsFromOtherSitesAreRefused(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	signIn := func(header map[string]string) answer {
		return b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}, header: header})
	}
	for _, header := range []map[string]string{{"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}, {"Origin": "https://evil.example"}, {"Origin": "null"}} {
		a := signIn(header).is(403)
		require.Contains(t, a.problem().Detail, "another site")
		require.Empty(t, a.header.Get("Set-Cookie"))
		req, err := http.NewRequest("POST", b.base+"/sign-in", strings.NewReader("key="+b.token))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for k, v := range header {
			req.Header.Set(k, v)
		}
		resp, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		require.NoError(t, resp.Body.Close())
		require.Equal(t, 403, resp.StatusCode, header)
		require.Empty(t, resp.Header.Get("Set-Cookie"))
	}
	for _, header := range []map[string]string{{}, {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "none"}, {"Origin": b.base}} {
		signIn(header).is(201)
	}
	b.do(call{method: "POST", path: "/v1/calc/heat-index", body: map[string]any{"temp_c": 32, "humidity_pct": 60},
		header: map[string]string{"Origin": "https://till.example"}}).is(200) // a bearer token is not sent by itself
	b.do(call{method: "GET", path: "/healthz", token: "-", header: map[string]string{"Sec-Fetch-Site": "cross-site"}}).is(200)
}
