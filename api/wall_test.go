package api_test

import (
	"encoding/json"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// Somebody on the wall reports an ice machine as down, and that it works again: the plan's outage follows, and nothing else may be changed.
func TestEquipmentIsReportedAsDownFromTheWall(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	screen := b.newToken("quay", models.ScopeKitchen)
	const now = "/v1/sites/quay/outages/now"
	const code = "Cuber"
	at := "?kind=maker&code=" + url.QueryEscape(code)
	wall := func(method, path string, body any) answer {
		return b.do(call{method: method, path: path, token: screen, body: body})
	}
	list := func() (out struct{ Rows []models.Outage }) {
		b.get("/v1/sites/quay/outages").is(200).into(&out)
		return out
	}
	down := map[string]any{"kind": "maker", "code": code}
	var first, again models.Outage
	wall("POST", now, down).is(200).into(&first)
	require.True(t, first.From.Equal(b.clock.Now().Truncate(time.Millisecond)))
	require.True(t, first.To.After(first.From.Add(24*time.Hour)), "unknown is not assumed to be mended by tomorrow")
	b.clock.advance(time.Minute)
	wall("POST", now, down).is(200).into(&again)
	require.Equal(t, first, again, "a second touch changes nothing")
	require.Len(t, list().Rows, 1)

	wall("DELETE", now+at, nil).is(204)
	require.True(t, list().Rows[0].To.Equal(b.clock.Now().Truncate(time.Millisecond)), "it works again")
	wall("DELETE", now+at, nil).is(404)

	// Undo of "working again" goes on from when it failed; undo of the report leaves no outage.
	wall("POST", now, map[string]any{"kind": "maker", "code": code, "from": first.From}).is(200).into(&again)
	require.Equal(t, first, again)
	wall("DELETE", now+at+"&mistake=true", nil).is(204)
	require.Empty(t, list().Rows)

	wall("POST", now, map[string]any{"kind": "maker", "code": "none"}).is(422).named("/code", "")
	wall("POST", now, map[string]any{"kind": "maker", "code": code, "from": b.clock.Now().Add(time.Hour)}).is(422).named("/from", "")
	wall("POST", now, down).is(200)
	b.clock.advance(models.OutageMistake + time.Minute)
	wall("DELETE", now+at+"&mistake=true", nil).is(409)
	b.do(call{method: "POST", path: now, token: b.newToken("quay", models.ScopeRead), body: down}).is(403)
	wall("PUT", "/v1/sites/quay/outages", map[string]any{"rows": []any{}}).is(403)
}

func TestACountIsUndoneThingByThing(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	screen := b.newToken("quay", models.ScopeKitchen)
	const counts = "/v1/sites/quay/stock-counts"
	at := b.clock.Now().UTC().Format(time.RFC3339)
	b.do(call{method: "POST", path: counts, token: screen, body: map[string]any{"counted_at": at, "ice_g": 9000, "plain_ice_g": 4000}}).is(200)
	list := func() (out struct{ Rows []models.StockCount }) {
		b.get(counts).is(200).into(&out)
		return out
	}
	undo := func(kind string) answer {
		return b.do(call{method: "DELETE", path: counts + "?counted_at=" + url.QueryEscape(at) + "&kind=" + kind, token: screen})
	}
	undo("ice").is(204)
	require.Len(t, list().Rows, 1)
	require.Nil(t, list().Rows[0].IceG)
	require.InDelta(t, 4000, *list().Rows[0].PlainIceG, 1e-9)
	undo("ice").is(404)
	undo("salt").is(422).named("/kind", "plain_ice")
	undo("plain_ice").is(204)
	require.Empty(t, list().Rows, "nothing is left of the count")
}

func TestADelayIsUndone(t *testing.T) {
	t.Parallel()
	b := publishedShop(t)
	const day = "/v1/sites/quay/prep-sheets/2026-07-11"
	screen := b.newToken("quay", models.ScopeKitchen)
	var before, after models.PrepSheet
	b.get(day).is(200).into(&before)
	b.clock.advance(before.Lines()[0].At.Sub(b.clock.Now()))
	late := func(key string) {
		b.do(call{method: "POST", path: day + "/delay", token: screen, body: map[string]any{"minutes": 20, "key": key}}).is(200)
	}
	undo := func(key string) answer {
		return b.do(call{method: "DELETE", path: day + "/delay?key=" + key, token: screen})
	}
	undo("once").is(404)
	late("once")
	undo("other").is(404)
	undo("once").is(200)
	b.get(day).is(200).into(&after)
	require.Equal(t, before.Tasks, after.Tasks)
	require.Empty(t, after.Delays)

	late("twice")
	b.clock.advance(models.DelayUndo + time.Minute)
	undo("twice").is(409)
}

// The till hears of a drink that goes off sale and of one that is back, with its own names for it, if and only if that is stored.
func TestTheTillHearsWhatIsOffSale(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	screen := b.newToken("quay", models.ScopeKitchen)
	const drink = "iced"
	var hook struct{ ID string }
	b.post("/v1/webhooks", map[string]any{"url": "https://example.com/till", "events": []string{"drink.off_sale", "drink.on_sale"}, "site": "quay"}).is(201).into(&hook)
	b.do(call{method: "PUT", path: "/v1/sites/quay/item-mappings", body: map[string]any{"mappings": []any{map[string]any{"source": "till", "item": "42", "drink": drink, "from": nil}}}}).is(200)
	from := b.clock.Now().UTC().Truncate(time.Second)
	sale := func(to any) {
		b.do(call{method: "POST", path: "/v1/sites/quay/off-sale", token: screen, body: map[string]any{"rows": []any{map[string]any{"drink": drink, "from": from, "to": to}}}}).is(200)
	}
	heard := func() (out []models.HookBody) {
		var deliveries struct{ Rows []models.Delivery }
		b.get("/v1/webhooks/" + hook.ID + "/deliveries").is(200).into(&deliveries)
		for i := len(deliveries.Rows) - 1; i >= 0; i-- {
			var h models.HookBody
			require.NoError(t, json.Unmarshal(deliveries.Rows[i].Body, &h))
			out = append(out, h)
		}
		return out
	}
	sale(nil)
	require.Len(t, heard(), 1)
	require.Equal(t, models.HookOffSale, heard()[0].Type)
	var change models.SaleChange
	require.NoError(t, json.Unmarshal(heard()[0].Data, &change))
	require.Equal(t, drink, change.Drink)
	require.Equal(t, []models.TillItem{{Source: "till", Item: "42"}}, change.Items)
	require.True(t, change.From.Equal(from))
	require.Nil(t, change.To)
	sale(nil)
	require.Len(t, heard(), 1, "nothing has changed")

	b.clock.advance(time.Hour)
	sale(b.clock.Now().UTC().Truncate(time.Second))
	require.Len(t, heard(), 2)
	require.Equal(t, models.HookOnSale, heard()[1].Type)

	b.do(call{method: "POST", path: "/v1/sites/quay/off-sale", token: screen, body: map[string]any{"rows": []any{map[string]any{"drink": "none", "from": from, "to": nil}}}}).is(422)
	require.Len(t, heard(), 2, "what is not stored is not sent")
}
