package api_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestCountsStockAndMarksFromAFastClockAreRefused(t *testing.T) {
	t.Parallel()
	b := newBundle(t) // 13:00Z
	b.prepareChanges()
	const early, late = "2026-07-10T13:15:00Z", "2026-07-10T13:15:01Z"
	for _, x := range []struct {
		path, pointer string
		body          func(at string) any
	}{
		{"/v1/sites/quay/sales-counts", "/counts/0/window_start", func(at string) any {
			return sales(saleRow(map[string]any{"window_start": at, "window_end": "2026-07-10T14:00:00Z"}))
		}},
		{"/v1/sites/quay/stock-counts", "/counted_at", func(at string) any { return map[string]any{"counted_at": at, "ice_g": 5000} }},
		{"/v1/sites/quay/stock-changes", "/rows/0/at", func(at string) any {
			return rowsOf(map[string]any{"kind": "bought_in", "ice_g": 5000, "at": at})
		}},
		{"/v1/tasks/task-1/marks", "/at", func(at string) any { return map[string]any{"state": "made", "at": at, "key": at} }},
	} {
		before := b.state("quay")
		b.post(x.path, x.body(late)).is(422).named(x.pointer, "2026-07-10T13:15:00Z; check the clock")
		require.Equal(t, before, b.state("quay"))
		b.post(x.path, x.body(early)).is(200)
	}
	b.do(call{method: "POST", path: "/v1/sites/quay/sales-files?source=book", header: map[string]string{"Content-Type": "text/csv"},
		body: "item,start,end,count\nICED-L,2199-07-09 10:00,2199-07-09 11:00,4\n"}).is(422).problem()
}

func TestMarksOnAPlanWithAStatedNowMayBeAhead(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.prepareChanges()
	stated := b.clock.Now().Add(48 * time.Hour)
	var request models.PlanRequest
	require.NoError(t, models.DecodeStrict([]byte(mustJSON(previewOf(func(map[string]any) {}))), &request))
	plan, _, err := b.store.AddPlan(t.Context(), "quay", models.Plan{Digest: "d", ComputedAt: stated, From: "2026-07-12", Days: 1}, request, b.clock.Now())
	require.NoError(t, err)
	require.NoError(t, b.store.PutSheets(t.Context(), "quay", []models.PrepSheet{{Site: "quay", Date: "2026-07-12", Revision: plan.Revision, PublishedAt: b.clock.Now(),
		Tasks: []models.Task{{ID: "task-9", At: stated, Kind: models.TaskIceCheck, Station: "Cuber"}}}}))
	b.post("/v1/tasks/task-9/marks", map[string]any{"state": "made", "at": stated.Format(time.RFC3339), "key": "k"}).is(200)
	b.post("/v1/tasks/task-1/marks", map[string]any{"state": "made", "at": stated.Format(time.RFC3339), "key": "k"}).is(422)
}

func TestNamesAreOneLineInOneDirection(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	etag := b.setUp("quay")
	for _, bad := range []string{"Ada\u202eadmin", "Ada\nLee", "A\x00da", "\u2066Ada", "Ada\u200f"} {
		b.post("/v1/people", map[string]any{"name": bad, "sign_in": "ada", "scopes": []string{"read"}}).is(422).named("/name", "direction")
		b.post("/v1/tokens", map[string]any{"name": bad, "scopes": []string{"read"}}).is(422).named("/name", "direction")
		b.put("/v1/sites/quay/events", map[string]any{"events": []any{map[string]any{"from": "2026-07-11T10:00:00Z", "to": "2026-07-11T12:00:00Z", "name": bad}}}).is(422).named("/events/0/name", "direction")
		for _, at := range [][]any{{"site", "name"}, {"drinks", 0, "name"}, {"beverages", 0, "name"}} {
			a := b.do(call{method: "PUT", path: "/v1/sites/quay/setup", body: edit(shop("quay"), bad, at...), header: map[string]string{"If-Match": etag}})
			a.is(422)
		}
	}
	for _, good := range []string{"Zoë", "عايدة", "\U0001F468\u200d\U0001F373 Bo", "Anne-Marie O’Neill"} {
		b.post("/v1/tokens", map[string]any{"name": good, "scopes": []string{"read"}}).is(201)
	}
	for _, code := range []string{"a.b", "..", "quay west", "-x", "ки"} {
		b.put("/v1/sites/"+code+"/setup", shop(code)).is(422).named("/site/code", "letters, digits")
	}
	b.put("/v1/sites/Quay_2-west/setup", shop("Quay_2-west")).is(201)
}

func TestAShopWithOldNamesStaysUsable(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	old, etag, err := b.store.Setup(t.Context(), "quay")
	require.NoError(t, err)
	old.Drinks[0].Name = "Iced\u202e house"
	_, _, err = b.store.PutSetup(t.Context(), old, etag, b.clock.Now()) // as before the rule
	require.NoError(t, err)
	now, _, err := b.store.Setup(t.Context(), "quay")
	require.NoError(t, err)
	require.Equal(t, "Iced  house", now.Drinks[0].Name)
	require.NoError(t, now.Validate())
}
