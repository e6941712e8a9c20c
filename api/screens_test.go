package api_test

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

type pairing struct{ ID, Code, Secret string }

func (b *bundle) beginPairing() (p pairing) {
	b.t.Helper()
	b.do(call{method: "POST", path: "/v1/screen-pairings", token: "-"}).is(201).into(&p)
	return p
}

func (b *bundle) claim(p pairing, right string) answer {
	b.t.Helper()
	return b.do(call{method: "POST", path: "/v1/screen-pairings/" + p.ID + "/claim", token: "-", body: map[string]any{"secret": p.Secret, "right": right}})
}

func (b *bundle) pair(code, site string) answer {
	b.t.Helper()
	return b.post("/v1/screens", map[string]any{"code": code, "name": "Bar", "site": site, "stations": []string{"Left"}})
}

func TestScreenPairingWithAToken(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	p := b.beginPairing()
	require.Regexp(t, "^["+models.PairingAlphabet+"]{6}$", p.Code)
	require.Contains(t, string(b.claim(p, "token").is(200).body), `"state":"waiting"`)

	var screen models.Screen
	b.pair(strings.ToLower(p.Code[:3])+" "+p.Code[3:], "quay").is(201).into(&screen)
	require.Nil(t, screen.SeenAt)
	require.Equal(t, "for the test", screen.PairedBy)
	var got struct {
		State, Secret string
		Screen        models.Screen
	}
	a := b.claim(p, "token").is(200).into(&got)
	require.Equal(t, "paired", got.State)
	require.Equal(t, []string{"Left"}, got.Screen.Stations)
	require.Empty(t, a.header.Get("Set-Cookie"))

	b.do(call{method: "GET", path: "/v1/sites/quay/warnings", token: got.Secret}).is(200)
	b.do(call{method: "GET", path: "/v1/sites/quay/setup", token: got.Secret}).is(403)
	b.do(call{method: "GET", path: "/v1/sites/pier/warnings", token: got.Secret}).is(404)
	var tokens struct{ Rows []models.Token }
	b.get("/v1/tokens").is(200).into(&tokens)
	require.Len(t, tokens.Rows, 1, "a screen's token is not listed among the access keys")
	b.do(call{method: "DELETE", path: "/v1/tokens/" + screen.ID}).is(404)

	var list struct{ Rows []models.Screen }
	b.get("/v1/screens").is(200).into(&list)
	require.Len(t, list.Rows, 1)
	require.NotNil(t, list.Rows[0].SeenAt)
	pier := b.newToken("pier", models.ScopeManage)
	b.do(call{method: "GET", path: "/v1/screens", token: pier}).is(200).into(&list)
	require.Empty(t, list.Rows)
	b.do(call{method: "DELETE", path: "/v1/screens/" + screen.ID, token: pier}).is(404)
	change := map[string]any{"name": "Back", "stations": []string{"Cuber"}}
	b.do(call{method: "PUT", path: "/v1/screens/" + screen.ID, token: pier, body: change}).is(404)
	b.put("/v1/screens/"+screen.ID, map[string]any{"name": ""}).is(422).named("/name", "")
	b.put("/v1/screens/"+screen.ID, change).is(200).into(&screen)
	require.Equal(t, "Back", screen.Name)
	require.Equal(t, []string{"Cuber"}, screen.Stations)
	b.do(call{method: "DELETE", path: "/v1/screens/" + screen.ID}).is(204)
	b.do(call{method: "GET", path: "/v1/sites/quay/warnings", token: got.Secret}).is(401)
	b.get("/v1/screens").is(200).into(&list)
	require.Empty(t, list.Rows)
}

func TestScreenPairingWithASession(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	p := b.beginPairing()
	b.pair(p.Code, "quay").is(201)
	a := b.claim(p, "session").is(200)
	require.NotContains(t, string(a.body), "hotday_")
	cookie := a.header.Get("Set-Cookie")
	for _, part := range []string{"HttpOnly", "SameSite=Lax", "Max-Age=34560000"} {
		require.Contains(t, cookie, part)
	}
	pair, _, _ := strings.Cut(cookie, ";")
	me := call{method: "GET", path: "/v1/sites/quay/warnings", token: "-", header: map[string]string{"Cookie": pair}}
	b.do(me).is(200)

	// The session of a screen in use is renewed for years, with the same secret.
	b.clock.advance(29 * 24 * time.Hour)
	require.Empty(t, b.do(me).is(200).header.Get("Set-Cookie"))
	for range 14 {
		b.clock.advance(31 * 24 * time.Hour)
		require.Contains(t, b.do(me).is(200).header.Get("Set-Cookie"), pair)
	}
	var list struct{ Rows []models.Screen }
	b.get("/v1/screens").is(200).into(&list)
	require.Equal(t, b.clock.Now(), list.Rows[0].SeenAt.UTC())
	b.do(call{method: "DELETE", path: "/v1/screens/" + list.Rows[0].ID}).is(204)
	b.do(me).is(401)
}

func TestPairingCodesCannotBeGuessedReusedOrKept(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	p := b.beginPairing()

	// A wrong secret claims nothing, before and after pairing.
	wrong := p
	wrong.Secret = b.beginPairing().Secret
	b.claim(wrong, "token").is(404)
	b.pair(p.Code, "quay").is(201)
	b.claim(wrong, "token").is(404)
	b.pair(p.Code, "quay").is(422).named("/code", "on the screen")
	b.claim(p, "token").is(200)
	b.claim(p, "token").is(404) // used up
	b.claim(pairing{ID: "nothing", Secret: "x"}, "token").is(404)

	// Unused codes and unclaimed pairings expire.
	p = b.beginPairing()
	late := b.beginPairing()
	b.pair(late.Code, "quay").is(201)
	b.clock.advance(models.PairingTime)
	b.claim(p, "token").is(404)
	b.claim(late, "token").is(404)
	b.pair(p.Code, "quay").is(422)

	// A screen revoked before its claim gets nothing.
	p = b.beginPairing()
	var screen models.Screen
	b.pair(p.Code, "quay").is(201).into(&screen)
	b.do(call{method: "DELETE", path: "/v1/screens/" + screen.ID}).is(204)
	b.claim(p, "token").is(404)

	// Wrong codes are rate limited by token; valid ones do not count.
	manager := b.newToken("quay", models.ScopeManage)
	guess := call{method: "POST", path: "/v1/screens", token: manager, body: map[string]any{"code": "AAAAAA", "name": "Bar"}}
	for range 10 {
		b.do(guess).is(422)
	}
	require.Equal(t, "10", b.do(guess).is(429).header.Get("Retry-After"))
	b.pair(b.beginPairing().Code, "quay").is(201)
	require.NotContains(t, b.log.String(), p.Secret)
	require.NotContains(t, b.log.String(), p.Code)
}

func TestPairingRequestsAreRateLimited(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	for range 30 {
		b.beginPairing()
	}
	a := b.do(call{method: "POST", path: "/v1/screen-pairings", token: "-"}).is(429)
	require.Equal(t, "5", a.header.Get("Retry-After"))
	b.clock.advance(5 * time.Second)
	b.beginPairing()
}

func TestInvalidPairingsNameTheField(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	p := b.beginPairing()
	for _, x := range []struct {
		body    map[string]any
		status  int
		pointer string
	}{
		{map[string]any{"name": "Bar", "site": "quay"}, 400, "/code"},
		{map[string]any{"code": p.Code, "site": "quay"}, 400, "/name"},
		{map[string]any{"code": p.Code, "name": "", "site": "quay"}, 422, "/name"},
		{map[string]any{"code": p.Code, "name": "Bar", "site": "nowhere"}, 422, "/site"},
		{map[string]any{"code": p.Code, "name": "Bar"}, 422, "/site"},
		{map[string]any{"code": p.Code, "name": "Bar", "site": "quay", "stations": []string{""}}, 422, "/stations/0"},
		{map[string]any{"code": p.Code, "name": "Bar", "site": "quay", "room": 1}, 400, "/room"},
		{map[string]any{"code": "000000", "name": "Bar", "site": "quay"}, 422, "/code"},
		{map[string]any{"code": p.Code + "A", "name": "Bar", "site": "quay"}, 422, "/code"},
	} {
		b.post("/v1/screens", x.body).is(x.status).named(x.pointer, "")
	}
	b.do(call{method: "POST", path: "/v1/screens", token: b.newToken("pier", models.ScopeManage), body: map[string]any{"code": p.Code, "name": "Bar", "site": "quay"}}).
		is(422).named("/site", "set up")
	b.do(call{method: "POST", path: "/v1/screens", token: b.newToken("quay", models.ScopeKitchen), body: map[string]any{"code": p.Code, "name": "Bar"}}).is(403)
	b.claim(p, "all").is(422).named("/right", "session, token")
	require.Contains(t, string(b.claim(p, "token").is(200).body), "waiting", "none of these paired the screen")
	var list struct{ Rows []models.Screen }
	b.get("/v1/screens").is(200).into(&list)
	require.Empty(t, list.Rows)
}

func TestLiveStreamOfARevokedScreenEndsAtOnce(t *testing.T) {
	t.Parallel()
	b := newBundle(t) // heartbeats come every 15 s, so they do not end the stream first
	b.setUp("quay")
	p := b.beginPairing()
	var screen models.Screen
	b.pair(p.Code, "quay").is(201).into(&screen)
	var got struct{ Secret string }
	b.claim(p, "token").into(&got)

	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, "GET", b.base+"/v1/sites/quay/live", nil)
	require.NoError(t, err)
	req.Header.Set("Authorization", "Bearer "+got.Secret)
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer resp.Body.Close()
	require.Equal(t, 200, resp.StatusCode)
	lines := bufio.NewScanner(resp.Body)
	require.True(t, lines.Scan())
	b.do(call{method: "DELETE", path: "/v1/screens/" + screen.ID}).is(204)
	for lines.Scan() { // to the end of the stream
	}
	require.NoError(t, lines.Err(), "the server ended the stream, not the timeout")
	require.NoError(t, ctx.Err())
}

func TestCalendarKeyIsCreatedReplacedAndRevoked(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	path := "/v1/sites/quay/calendar-key"
	b.get(path).is(404)
	var first, second struct{ Key, Path string }
	b.do(call{method: "POST", path: path}).is(201).into(&first)
	require.Equal(t, fmt.Sprintf("/v1/sites/quay/prep.ics?key=%s", first.Key), first.Path)
	require.NotContains(t, string(b.get(path).is(200).body), first.Key)
	check := func(site, key string) models.Code {
		return models.CodeOf(b.store.CheckCalendarKey(t.Context(), site, key, b.clock.Now()))
	}
	require.Empty(t, check("quay", first.Key))
	require.Contains(t, string(b.get(path).is(200).body), `"used_at":"2026-`)
	require.Equal(t, models.CodeUnauthorised, check("pier", first.Key))
	require.Equal(t, models.CodeUnauthorised, check("nowhere", first.Key))
	require.Equal(t, models.CodeUnauthorised, check("quay", ""))
	b.do(call{method: "POST", path: path}).is(201).into(&second)
	require.Equal(t, models.CodeUnauthorised, check("quay", first.Key))
	require.Empty(t, check("quay", second.Key))
	b.do(call{method: "POST", path: path, token: b.newToken("pier", models.ScopeManage)}).is(404)
	b.do(call{method: "POST", path: path, token: b.newToken("quay", models.ScopeKitchen)}).is(403)
	b.do(call{method: "DELETE", path: path}).is(204)
	require.Equal(t, models.CodeUnauthorised, check("quay", second.Key))
	b.get(path).is(404)
}
