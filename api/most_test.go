package api_test

import (
	"errors"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

func TestThereCanBeOnlySoManyOfEach(t *testing.T) {
	t.Parallel()
	b := newBundle(t, func(c *api.Config) { c.Most = api.Most{Tokens: 2, People: 1, Screens: 1, Webhooks: 1, Sites: 2} })
	b.setUp("quay")
	b.setUp("pier")
	full := func(a answer, what string) {
		t.Helper()
		p := a.is(http.StatusConflict).problem()
		require.Equal(t, "/problems/limit_reached", p.Type)
		require.Contains(t, p.Detail, what)
	}
	full(b.put("/v1/sites/bay/setup", shop("bay")), "2 sites")

	token := map[string]any{"name": "till", "scopes": []string{"sales"}, "site": "quay"}
	var made models.Token
	b.post("/v1/tokens", token).is(201).into(&made)
	b.post("/v1/tokens", token).is(201)
	full(b.post("/v1/tokens", token), `2 access keys of site "quay"`)
	b.post("/v1/tokens", map[string]any{"name": "till", "scopes": []string{"sales"}, "site": "pier"}).is(201) // another site has its own
	b.do(call{method: "DELETE", path: "/v1/tokens/" + made.ID}).is(204)
	b.post("/v1/tokens", token).is(201)

	b.post("/v1/people", map[string]any{"name": "Ada", "sign_in": "ada", "scopes": []string{"kitchen"}, "site": "quay"}).is(201)
	full(b.post("/v1/people", map[string]any{"name": "Ben", "sign_in": "ben", "scopes": []string{"kitchen"}, "site": "quay"}), `1 people of site "quay"`)

	hook := map[string]any{"url": "https://example.com/hook", "events": []string{"task.marked"}, "site": "quay"}
	b.post("/v1/webhooks", hook).is(201)
	full(b.post("/v1/webhooks", hook), `1 webhooks of site "quay"`)

	pair := func() answer {
		var p models.Pairing
		b.do(call{method: "POST", path: "/v1/screen-pairings", token: "-"}).is(201).into(&p)
		return b.post("/v1/screens", map[string]any{"code": p.Code, "name": "wall", "site": "quay", "stations": []string{}})
	}
	pair().is(201)
	full(pair(), `1 screens of site "quay"`)
}

func TestOneAddressHasOnlySoManyConnections(t *testing.T) {
	t.Parallel()
	b := newBundle(t, func(c *api.Config) { c.Most = api.Most{ConnectionsOfOne: 3} })
	address := strings.TrimPrefix(b.base, "http://")
	connect := func() net.Conn {
		c, err := net.Dial("tcp", address)
		require.NoError(t, err)
		t.Cleanup(func() { _ = c.Close() })
		return c
	}
	// closed reports whether the service has closed a connection.
	closed := func(c net.Conn) bool {
		require.NoError(t, c.SetReadDeadline(time.Now().Add(300*time.Millisecond)))
		_, err := c.Read(make([]byte, 1))
		var timeout net.Error
		return !(errors.As(err, &timeout) && timeout.Timeout())
	}
	first := connect()
	connect()
	connect()
	require.Eventually(t, func() bool { return closed(connect()) }, time.Minute, time.Millisecond)
	require.False(t, closed(first))
	require.NoError(t, first.Close())
	require.Eventually(t, func() bool { return !closed(connect()) }, time.Minute, time.Millisecond, "one that has closed makes room")
}
