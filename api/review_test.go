package api_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestReview(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const site = "/v1/sites/quay"
	b.post(site+"/replays", map[string]any{}).is(409)
	var empty models.Review
	b.get(site + "/review?from=2026-07-01&days=3&now=2026-07-11T08:00:00Z").is(200).into(&empty)
	require.Zero(t, empty.Open)
	require.NotEmpty(t, empty.Notes, "it explains why it is empty")
	require.Nil(t, empty.Record)

	b.put(site+"/item-mappings", map[string]any{"mappings": []any{map[string]any{"source": "till", "item": "ICED", "drink": "iced"}}}).is(200)
	noon := time.Date(2026, 7, 4, 10, 0, 0, 0, time.UTC)
	b.post(site+"/sales-counts", map[string]any{"source": "till", "counts": []any{map[string]any{"item": "ICED", "window_start": noon, "window_end": noon.Add(time.Hour), "count": 12}}}).is(200)
	var r models.Review
	b.get(site + "/review?from=2026-07-04&days=1&now=2026-07-11T08:00:00Z").is(200).into(&r)
	require.Equal(t, 1, r.Open)
	require.Zero(t, r.Reported)
	for _, d := range r.Drinks {
		if d.Drink == "iced" {
			require.InDelta(t, 12, d.Sold, 1e-9)
			require.Nil(t, d.Forecast, "there was no forecast")
		}
	}
	for _, x := range r.Beverages {
		require.Nil(t, x.MadeG, "unknown, not zero")
	}
	var later models.Review
	b.get(site + "/review?from=2026-07-10&days=28&now=2026-07-11T08:00:00Z").is(200).into(&later)
	require.Equal(t, 1, later.Days, "only past days")

	p := b.get(site + "/review?days=185").is(422).problem()
	require.Equal(t, "/days", p.Errors[0].Pointer)
	b.get("/v1/sites/nowhere/review").is(404)
	b.post(site+"/replays", map[string]any{"days": 29}).is(422)
	b.post(site+"/replays", map[string]any{"days": 2, "from": "2020-01-01"}).is(422)
	b.get(site + "/replays/latest").is(404)
}

func TestWorkInProgress(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const site = "/v1/sites/quay"
	b.do(call{method: "DELETE", path: site + "/work/refit"}).is(404)
	now := b.clock.Now()
	for kind, at := range map[string]time.Time{"refit": now, "replay": now.Add(-time.Hour)} {
		_, err := b.store.PutProgress(t.Context(), "quay", models.Progress{Kind: kind, Key: "k", Share: 0.4, Say: "Learning", StartedAt: at, At: at})
		require.NoError(t, err)
	}
	var rows models.Rows[models.Progress]
	b.get(site + "/work").is(200).into(&rows)
	require.Len(t, rows.Rows, 1, "jobs that stopped reporting are left out")
	require.Equal(t, "refit", rows.Rows[0].Kind)
	require.InDelta(t, 0.4, rows.Rows[0].Share, 1e-9)
	b.do(call{method: "DELETE", path: site + "/work/refit", token: b.newToken("quay", models.ScopeKitchen)}).is(403)
	b.do(call{method: "DELETE", path: site + "/work/refit"}).is(204)
	stop, err := b.store.PutProgress(t.Context(), "quay", models.Progress{Kind: "refit", StartedAt: now, At: now})
	require.NoError(t, err)
	require.True(t, stop)

	var page struct{ Record *models.TrackRecord }
	b.get(site + "/forecast").is(200).into(&page)
	require.Nil(t, page.Record)
	require.NoError(t, b.store.PutTrackRecord(t.Context(), "quay", models.TrackRecord{MadeAt: now, Drinks: []models.DrinkRecord{}, Parts: []models.PartRecord{},
		Rows: []models.RowRecord{}, Weeks: []models.PeriodRecord{}}))
	b.get(site + "/forecast").is(200).into(&page)
	require.NotNil(t, page.Record)
}
