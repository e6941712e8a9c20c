package api_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestEventsAndOffSalePeriodsAreDeleted(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const site, from, to = "/v1/sites/quay", "2026-07-11T13:00:00+02:00", "2026-07-11T17:00:00+02:00"
	fair := func(name string) map[string]any { return map[string]any{"from": from, "to": to, "name": name} }
	b.put(site+"/events", map[string]any{"events": []any{fair("fair"), fair("match"), fair("")}}).is(200)
	b.post(site+"/off-sale", map[string]any{"rows": []any{map[string]any{"drink": "long", "from": from}}}).is(200)

	event := func(q url.Values) string { return site + "/events?" + q.Encode() }
	whole := url.Values{"from": {from}, "to": {to}, "name": {"fair"}}
	b.do(call{method: "DELETE", path: event(url.Values{"from": {from}})}).is(422).named("/to", "a time such as")
	b.do(call{method: "DELETE", path: event(url.Values{"from": {from}, "to": {"noon"}})}).is(400).named("/to", "a time such as")
	b.do(call{method: "DELETE", path: event(whole), token: b.newToken("quay", models.ScopeKitchen)}).is(403)
	b.do(call{method: "DELETE", path: event(url.Values{"from": {from}, "to": {from}, "name": {"fair"}})}).is(404)
	b.do(call{method: "DELETE", path: event(whole)}).is(204)
	b.do(call{method: "DELETE", path: event(whole)}).is(404)
	b.do(call{method: "DELETE", path: event(url.Values{"from": {from}, "to": {to}})}).is(204)
	var events models.Rows[models.Event]
	b.do(call{method: "GET", path: site + "/events"}).is(200).into(&events)
	require.Len(t, events.Rows, 1)
	require.Equal(t, "match", events.Rows[0].Name)

	off := site + "/off-sale?" + url.Values{"drink": {"long"}, "from": {from}}.Encode()
	b.do(call{method: "DELETE", path: off, token: b.newToken("quay", models.ScopeRead)}).is(403)
	b.do(call{method: "DELETE", path: off, token: b.newToken("quay", models.ScopeKitchen)}).is(204)
	b.do(call{method: "DELETE", path: off}).is(404)
	b.do(call{method: "DELETE", path: site + "/off-sale?drink=long"}).is(422).named("/from", "a time such as")
}
