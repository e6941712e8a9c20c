package api_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner/sheet"
)

// The evening's job publishes tomorrow's sheet alone; a manager who then publishes the whole plan must not send it out again.
func TestPublishSendsOutOnlyWhatTheKitchenDoesNotHave(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const site = "/v1/sites/quay"
	var rows []any
	for _, date := range []string{"2026-07-11", "2026-07-12"} {
		rows = append(rows, map[string]any{"date": date, "day_part": "afternoon", "drink": "iced", "expected": 60})
	}
	b.put(site+"/expected-demand", map[string]any{"rows": rows}).is(200)
	b.post(site+"/plans", map[string]any{"from": "2026-07-11", "days": 2, "now": "2026-07-10T15:00:00+02:00"}).is(201)
	ctx := t.Context()
	plan, request, err := b.store.LatestPlan(ctx, "quay")
	require.NoError(t, err)
	sheets := sheet.PrepSheets(request, plan, nil, b.clock.Now().UTC())
	require.Len(t, sheets, 2)
	require.NoError(t, b.store.PutSheets(ctx, "quay", sheets[1:]))
	last, err := b.store.LastEventID(ctx, "quay")
	require.NoError(t, err)

	var published struct{ Sheets []models.Date }
	for range 2 { // the second time for a lost answer
		b.post(site+"/plans/1/publish", nil).is(200).into(&published)
		require.Equal(t, []models.Date{"2026-07-11", "2026-07-12"}, published.Sheets)
	}
	events, err := b.store.EventsAfter(ctx, "quay", last, 100)
	require.NoError(t, err)
	var sent []string
	for _, e := range events {
		if e.Kind == "sheet" {
			sent = append(sent, string(e.Data))
		}
	}
	require.Len(t, sent, 1)
	require.Contains(t, sent[0], "2026-07-11")
}
