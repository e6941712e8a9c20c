package api_test

import (
	"fmt"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// weighBatches stores n days with a weighed batch each, whose grounds retain retained times their weight.
func (b *bundle) weighBatches(site string, n int, retained float64) {
	b.t.Helper()
	ctx := b.t.Context()
	setup, _, err := b.store.Setup(ctx, site)
	require.NoError(b.t, err)
	bev := &setup.Beverages[0]
	today := setup.Site.ServiceDayOf(b.clock.Now())
	for k := n; k >= 1; k-- {
		d := today.AddDays(-k)
		start := d.At(9*60, setup.Site.Location())
		id := fmt.Sprintf("%s-%d", site, k)
		task := models.BatchTask{ID: id, Date: d, Brewer: setup.Brewers[0].Code, Beverage: bev.Code, Start: start, Ready: start.Add(time.Hour), UseBy: start.Add(8 * time.Hour),
			DoseG: 300, BrewWaterG: 300 * bev.Ratio * (1 - bev.IceShare), IceG: 300 * bev.Ratio * bev.IceShare, BeverageG: 4000}
		require.NoError(b.t, b.store.PutSheets(ctx, site, []models.PrepSheet{{Site: site, Date: d, Revision: 1, PublishedAt: start.Add(-time.Hour),
			Tasks: []models.Task{{ID: id, At: start, Kind: models.TaskBrew, Station: task.Brewer, Beverage: bev.Code, State: models.Due, Batch: &task}}}}))
		g := 300 * (bev.Ratio + bev.MaxYieldPct/100 - retained) * (1 + 0.01*float64(k%3-1))
		b.do(call{method: "POST", path: "/v1/tasks/" + id + "/marks", body: map[string]any{"state": "made", "at": task.Ready, "beverage_g": g, "key": id}}).is(200)
	}
}

func TestLearntValuesAreUsedAndUndone(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	const learnt = "/v1/sites/quay/learnt"
	var got models.Learnt
	b.get(learnt).is(200).into(&got)
	require.Empty(t, got.Values)
	b.weighBatches("quay", 3, 2.8)
	b.get(learnt).is(200).into(&got)
	require.Equal(t, models.LearntFew, got.Values[0].Note)
	require.Nil(t, got.Values[0].Change, "three batches prove nothing")
	b.weighBatches("quay", 21, 2.8)
	b.get(learnt).is(200).into(&got)
	v := got.Values[0]
	require.NotNil(t, v.Change)
	require.InDelta(t, 2.8, v.Value, 0.1)

	use, undo := learnt+"/"+url.PathEscape(v.ID)+"/use", learnt+"/"+url.PathEscape(v.ID)+"/undo"
	b.do(call{method: "POST", path: use, body: map[string]any{"value": v.Change.Value}, token: b.newToken("quay", models.ScopeKitchen)}).is(403)
	b.do(call{method: "POST", path: use, body: map[string]any{"value": 9}}).is(409)
	b.do(call{method: "POST", path: use, body: map[string]any{}}).is(400)
	b.do(call{method: "POST", path: learnt + "/retention:none/use", body: map[string]any{"value": 9}}).is(404)
	b.do(call{method: "POST", path: undo}).is(404)

	retained := func() float64 {
		var s models.Setup
		b.get("/v1/sites/quay/setup").is(200).into(&s)
		return s.Beverages[0].RetainedRatio
	}
	before := retained()
	var change models.LearntChange
	b.do(call{method: "POST", path: use, body: map[string]any{"value": v.Change.Value}}).is(201).into(&change)
	require.InDelta(t, v.Change.Value, retained(), 1e-9)
	require.Equal(t, "for the test", change.By)
	require.InDelta(t, before, change.SetUp, 1e-9)
	b.get(learnt).is(200).into(&got)
	require.Nil(t, got.Values[0].Change, "the set-up agrees now")
	require.Equal(t, change.ID, got.Changes[0].ID)
	b.do(call{method: "POST", path: use, body: map[string]any{"value": v.Change.Value}}).is(409)

	b.do(call{method: "POST", path: undo}).is(200).into(&change)
	require.NotNil(t, change.UndoneAt)
	require.InDelta(t, before, retained(), 1e-9)
	b.do(call{method: "POST", path: undo}).is(404)

	var log models.Rows[models.AuditEntry]
	b.get("/v1/audit").is(200).into(&log)
	var actions []string
	for _, e := range log.Rows {
		actions = append(actions, e.Action)
	}
	require.Contains(t, actions, models.AuditUseLearnt)
	require.Contains(t, actions, models.AuditUndoLearnt)
	require.Contains(t, log.Rows[1].Subject+log.Rows[0].Subject, v.ID)

	// What somebody changed by hand since is not overwritten.
	b.do(call{method: "POST", path: use, body: map[string]any{"value": v.Change.Value}}).is(201)
	s, etag, err := b.store.Setup(t.Context(), "quay")
	require.NoError(t, err)
	s.Beverages[0].RetainedRatio = 3
	_, _, err = b.store.PutSetup(t.Context(), s, etag, b.clock.Now())
	require.NoError(t, err)
	b.do(call{method: "POST", path: undo}).is(409)
	require.InDelta(t, 3, retained(), 1e-9)
}
