package api_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

const goodPassword = "the tide is high at half past three"

// invite adds a person and returns their ID and the code of the password link.
func (b *bundle) invite(body map[string]any) (id, code string) {
	b.t.Helper()
	var made struct{ ID, Link string }
	b.post("/v1/people", body).is(201).into(&made)
	return made.ID, codeOf(b.t, made.Link)
}

func codeOf(t testing.TB, link string) string {
	u, err := url.Parse(link)
	require.NoError(t, err)
	require.Equal(t, "/welcome", u.Path)
	return u.Query().Get("code")
}

func (b *bundle) welcome(code, password string) answer {
	b.t.Helper()
	return b.do(call{method: "POST", path: "/v1/welcome", token: "-", body: map[string]any{"code": code, "password": password}})
}

// visitor is a signed-in browser.
type visitor struct {
	b            *bundle
	cookie, csrf string
}

func (b *bundle) signInAs(name, password string) answer {
	b.t.Helper()
	return b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"sign_in": name, "password": password}})
}

func (b *bundle) visit(name, password string) *visitor {
	b.t.Helper()
	a := b.signInAs(name, password).is(201)
	var who struct {
		CSRFToken string `json:"csrf_token"`
	}
	a.into(&who)
	pair, _, _ := strings.Cut(a.header.Get("Set-Cookie"), ";")
	return &visitor{b, pair, who.CSRFToken}
}

func (v *visitor) do(method, path string, body any) answer {
	v.b.t.Helper()
	return v.b.do(call{method: method, path: path, token: "-", body: body, header: map[string]string{"Cookie": v.cookie, "X-CSRF-Token": v.csrf}})
}

func TestPersonIsInvitedChoosesAPasswordAndSignsIn(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	b.setUp("pier")
	id, code := b.invite(map[string]any{"name": "Ada Brook", "sign_in": "Ada@Example.com", "scopes": []string{"kitchen", "kitchen"}, "site": "quay"})
	b.post("/v1/people", map[string]any{"name": "Ada", "sign_in": "ada@example.com", "scopes": []string{"read"}}).is(409)
	b.signInAs("ada@example.com", "").is(401)

	for _, weak := range []string{"", "short", "fourteen chars", strings.Repeat("a", 15), strings.Repeat("abc", 6), "ada brook ada brook 12", "qwertyuiop123456",
		"123456789012345678", "passwordpassword", "quay coffee 2026", strings.Repeat("long enough ", 30)} {
		b.welcome(code, weak).is(422).named("/password", "15 to 256")
	}
	b.welcome(code+"x", goodPassword).is(404)
	b.welcome(code, goodPassword).is(200)
	b.welcome(code, "another sentence nobody guesses").is(404) // used up

	ada := b.visit(" ADA@example.com ", goodPassword)
	ada.do("GET", "/v1/sites/quay/warnings", nil).is(200)
	ada.do("GET", "/v1/sites/pier/warnings", nil).is(404)
	ada.do("GET", "/v1/sites/quay/setup", nil).is(403)
	ada.do("GET", "/v1/people", nil).is(403)
	ada.do("GET", "/v1/audit", nil).is(403)

	// New scopes apply from the next request.
	b.put("/v1/people/"+id, map[string]any{"name": "Ada Brook", "sign_in": "ada@example.com", "scopes": []string{"manage"}, "site": "quay"}).is(200)
	ada.do("GET", "/v1/sites/quay/setup", nil).is(200)
	b.put("/v1/people/"+id, map[string]any{"name": "Ada Brook", "sign_in": "ben", "scopes": []string{"manage"}, "site": "quay"}).is(422).named("/sign_in", "ada@example.com")

	// A manager of one site reaches nobody else and cannot grant access to all sites.
	other, _ := b.invite(map[string]any{"name": "Ben", "sign_in": "ben", "scopes": []string{"manage"}})
	for _, a := range []answer{
		ada.do("DELETE", "/v1/people/"+other, nil),
		ada.do("POST", "/v1/people/"+other+"/link", nil),
		ada.do("PUT", "/v1/people/"+other, map[string]any{"name": "Ben", "sign_in": "ben", "scopes": []string{"read"}, "site": "quay"}),
	} {
		a.is(404)
	}
	ada.do("POST", "/v1/people", map[string]any{"name": "Cy", "sign_in": "cy", "scopes": []string{"manage"}, "site": ""}).is(422).named("/site", "")
	ada.do("POST", "/v1/people", map[string]any{"name": "Cy", "sign_in": "cy", "scopes": []string{"manage"}, "site": "pier"}).is(422).named("/site", "")
	ada.do("PUT", "/v1/people/"+id, map[string]any{"name": "Ada", "sign_in": "ada@example.com", "scopes": []string{"manage"}, "site": ""}).is(422)
	ada.do("DELETE", "/v1/people/"+id, nil).is(409)
	var list struct{ Rows []models.Person }
	ada.do("GET", "/v1/people", nil).is(200).into(&list)
	require.Len(t, list.Rows, 1)
	require.True(t, list.Rows[0].Ready)
	require.NotNil(t, list.Rows[0].SignedInAt)

	b.do(call{method: "DELETE", path: "/v1/people/" + id}).is(204)
	ada.do("GET", "/v1/session", nil).is(401)
	b.signInAs("ada@example.com", goodPassword).is(401)
	b.invite(map[string]any{"name": "Ada Brook", "sign_in": "ada@example.com", "scopes": []string{"read"}}) // the name is available again
	require.NotContains(t, b.log.String(), goodPassword)
	require.NotContains(t, b.log.String(), code)
}

func TestForgottenPasswordIsReplacedThroughANewLink(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	id, first := b.invite(map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"read"}})
	link := func() string {
		var made struct{ Link string }
		b.do(call{method: "POST", path: "/v1/people/" + id + "/link"}).is(201).into(&made)
		return codeOf(t, made.Link)
	}
	second := link()
	b.welcome(first, goodPassword).is(404)
	b.welcome(second, goodPassword).is(200)
	ada := b.visit("ada", goodPassword)
	third := link()
	ada.do("GET", "/v1/session", nil).is(200) // nothing changes until the link is used
	b.clock.advance(models.LinkTime)
	b.welcome(third, "another sentence nobody guesses").is(404)
	b.welcome(link(), "another sentence nobody guesses").is(200)
	ada.do("GET", "/v1/session", nil).is(401)
	b.signInAs("ada", goodPassword).is(401)
	b.visit("ada", "another sentence nobody guesses")
}

func TestChangingThePasswordSignsOutOtherBrowsers(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	_, code := b.invite(map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"read"}})
	b.welcome(code, goodPassword).is(200)
	phone, laptop := b.visit("ada", goodPassword), b.visit("ada", goodPassword)
	next := "a different tide comes in the morning"
	phone.do("PUT", "/v1/password", map[string]any{"old": "wrong", "password": next}).is(422).named("/old", "current password")
	phone.do("PUT", "/v1/password", map[string]any{"old": goodPassword, "password": "too short"}).is(422).named("/password", "15")
	a := phone.do("PUT", "/v1/password", map[string]any{"old": goodPassword, "password": next}).is(204)
	laptop.do("GET", "/v1/session", nil).is(401)
	phone.do("GET", "/v1/session", nil).is(401)
	phone.cookie, _, _ = strings.Cut(a.header.Get("Set-Cookie"), ";")
	phone.do("GET", "/v1/session", nil).is(200)
	b.signInAs("ada", goodPassword).is(401)
	b.visit("ada", next)
	b.put("/v1/password", map[string]any{"old": "x", "password": next}).is(403) // an access key has no password
}

// The back-off must not reveal whether the name exists.
func TestWrongPasswordsBackOffAlikeForKnownAndUnknownNames(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	_, code := b.invite(map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"read"}})
	b.welcome(code, goodPassword).is(200)
	var transcripts []string
	for _, name := range []string{"ada", "nobody"} {
		transcript := ""
		for range 5 {
			transcript += string(b.signInAs(name, "a wrong guess").is(401).body)
		}
		b.clock.advance(time.Second)
		transcript += string(b.signInAs(name, "a wrong guess").is(401).body)
		transcript += b.signInAs(name, goodPassword).is(429).header.Get("Retry-After")
		b.clock.advance(time.Minute) // refills the address's rate limit
		transcripts = append(transcripts, strings.ReplaceAll(transcript, name, "NAME"))
	}
	require.Equal(t, transcripts[0], transcripts[1])
	b.visit("ada", goodPassword)
	for range 6 { // the correct password has reset the back-off
		b.signInAs("ada", "a wrong guess")
		b.clock.advance(2 * time.Second)
	}
	for range 12 {
		b.clock.advance(time.Hour)
		b.signInAs("ada", "a wrong guess").is(401)
	}
	require.Equal(t, "3600", b.signInAs("ada", goodPassword).is(429).header.Get("Retry-After"), "the wait never exceeds an hour")
}

func TestSessionsAreListedAndEnded(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	for _, who := range []string{"ada", "ben"} {
		_, code := b.invite(map[string]any{"name": who, "sign_in": who, "scopes": []string{map[string]string{"ada": "manage", "ben": "kitchen"}[who]}, "site": "quay"})
		b.welcome(code, goodPassword).is(200)
	}
	ada, ben, again := b.visit("ada", goodPassword), b.visit("ben", goodPassword), b.visit("ben", goodPassword)
	b.do(call{method: "POST", path: "/v1/session", token: "-", body: map[string]any{"key": b.token}}).is(201)
	list := func(v *visitor) (out []models.Session) {
		var l struct{ Rows []models.Session }
		v.do("GET", "/v1/sessions", nil).is(200).into(&l)
		return l.Rows
	}
	require.Len(t, list(ada), 3, "sessions of the site, not of the organisation")
	mine := list(ben)
	require.Len(t, mine, 2)
	for _, s := range mine {
		require.Equal(t, "ben", s.Name)
	}
	var adas, other string
	for _, s := range list(ada) {
		if s.Current {
			adas = s.ID
		}
	}
	for _, s := range mine {
		if !s.Current {
			other = s.ID
		}
	}
	ben.do("DELETE", "/v1/sessions/"+adas, nil).is(404)
	ben.do("DELETE", "/v1/sessions/"+other, nil).is(204)
	again.do("GET", "/v1/session", nil).is(401)
	bens := list(ben)
	require.Len(t, bens, 1)
	ada.do("DELETE", "/v1/sessions/"+bens[0].ID, nil).is(204)
	ben.do("GET", "/v1/session", nil).is(401)
	require.Len(t, list(ada), 1)
}

func TestActivityLog(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	etag := b.setUp("quay")
	b.setUp("pier")
	id, code := b.invite(map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"manage"}, "site": "quay"})
	b.welcome(code, goodPassword).is(200)
	ada := b.visit("ada", goodPassword)
	b.do(call{method: "PUT", path: "/v1/sites/quay/setup/costs", body: map[string]any{"short_factor": 2}, header: map[string]string{"If-Match": etag}}).is(200)
	ada.do("POST", "/v1/tokens", map[string]any{"name": "till", "scopes": []string{"sales"}}).is(201)
	ada.do("POST", "/v1/tokens", map[string]any{"name": "none", "scopes": []string{"all"}}).is(422)

	read := func(a answer) (out []string) {
		var l struct{ Rows []models.AuditEntry }
		a.is(200).into(&l)
		for _, e := range l.Rows {
			out = append(out, fmt.Sprintf("%s %s %s at %q", e.By, e.Action, e.Subject, e.Site))
		}
		return out
	}
	want := []string{
		`Ada token_made till (sales) at "quay"`,
		`for the test set_up costs at "quay"`,
		`Ada signed_in 127.0.0.1 at "quay"`,
		`Ada password_set Ada at "quay"`,
		`for the test person_added Ada (manage) at "quay"`,
	}
	require.Equal(t, want, read(ada.do("GET", "/v1/audit", nil))[:5])
	require.Len(t, read(ada.do("GET", "/v1/audit", nil)), 6, "with the site's creation, without the other site")
	require.Len(t, read(b.get("/v1/audit")), 7)
	var page struct {
		Rows []models.AuditEntry
		Next *string
	}
	b.get("/v1/audit?limit=4").is(200).into(&page)
	require.Equal(t, id, page.Rows[0].ByToken)
	require.NotNil(t, page.Next)
	require.Len(t, read(b.get("/v1/audit?cursor="+*page.Next)), 3)
	b.get("/v1/audit?cursor=x").is(422).named("/cursor", "")
}

func TestInvalidPeopleNameTheField(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	for _, x := range []struct {
		body    map[string]any
		status  int
		pointer string
	}{
		{map[string]any{"sign_in": "ada", "scopes": []string{"read"}}, 400, "/name"},
		{map[string]any{"name": "Ada", "scopes": []string{"read"}}, 400, "/sign_in"},
		{map[string]any{"name": "Ada", "sign_in": "ada"}, 400, "/scopes"},
		{map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{}}, 422, "/scopes"},
		{map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"chef"}}, 422, "/scopes/0"},
		{map[string]any{"name": "Ada", "sign_in": "a b", "scopes": []string{"read"}}, 422, "/sign_in"},
		{map[string]any{"name": "Ada", "sign_in": "-", "scopes": []string{"read"}}, 422, "/sign_in"},
		{map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"read"}, "site": "nowhere"}, 422, "/site"},
		{map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"read"}, "password": "x"}, 400, "/password"},
	} {
		b.post("/v1/people", x.body).is(x.status).named(x.pointer, "")
	}
	b.post("/v1/session", map[string]any{"key": b.token, "sign_in": "ada", "password": "x"}).is(422).named("/key", "alone")
	b.post("/v1/session", map[string]any{}).is(422).named("/key", "alone")
	var list struct{ Rows []models.Person }
	b.get("/v1/people").is(200).into(&list)
	require.Empty(t, list.Rows)
	b.do(call{method: "DELETE", path: "/v1/people/nobody"}).is(404)
}

func TestPasswordsAreStoredAsArgon2id(t *testing.T) {
	t.Parallel()
	b := newBundle(t, func(c *api.Config) { c.PasswordCost = nil })
	_, code := b.invite(map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"read"}})
	b.welcome(code, goodPassword).is(200)
	_, hash, err := b.store.PasswordOf(t.Context(), "ada")
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(hash, "$argon2id$v=19$m=65536,t=3,p=4$"), hash)
	b.visit("ada", goodPassword)
}
