package api_test

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// A whole day over HTTP: the shop is set up, counts arrive and are mapped, the manager enters numbers and events, a plan is computed
// and published, the kitchen marks a batch and counts ice, the day is replanned, and a reconnecting screen catches up.
func TestWholeDay(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	kitchen, till, viewer := b.newToken("quay", models.ScopeKitchen), b.newToken("quay", models.ScopeSales), b.newToken("quay", models.ScopeRead)
	const site = "/v1/sites/quay"

	// Four Saturdays of counts arrive from the till for an unmapped item.
	var counts []map[string]any
	for week := 1; week <= 4; week++ {
		for hour := 8; hour < 18; hour++ {
			start := time.Date(2026, 7, 11-7*week, hour-2, 0, 0, 0, time.UTC)
			counts = append(counts, map[string]any{"item": "ICED-M", "window_start": start.Format(time.RFC3339), "window_end": start.Add(time.Hour).Format(time.RFC3339), "count": 4 + hour%3 + week})
		}
	}
	post := map[string]any{"source": "till-1", "counts": counts}
	var result models.SalesResult
	b.do(call{method: "POST", path: site + "/sales-counts", token: till, body: post}).is(200).into(&result)
	require.Equal(t, models.SalesResult{New: 40, Unmapped: 40}, result)
	b.do(call{method: "POST", path: site + "/sales-counts", token: till, body: post}).is(200).into(&result)
	require.Equal(t, models.SalesResult{Unchanged: 40, Unmapped: 40}, result)

	var mappings struct {
		Mappings []models.ItemMapping
		Unmapped []models.UnmappedItem
	}
	b.get(site + "/item-mappings").is(200).into(&mappings)
	require.Len(t, mappings.Unmapped, 1)
	require.Equal(t, "ICED-M", mappings.Unmapped[0].Item)
	b.put(site+"/item-mappings", map[string]any{"mappings": []any{map[string]any{"source": "till-1", "item": "ICED-M", "drink": "iced"}}}).is(200).into(&mappings)
	require.Empty(t, mappings.Unmapped)

	// Once mapped, all earlier counts are used, and the range states its basis.
	var ranges models.Rows[struct {
		DayPart, Drink, Basis string
		Mean, P10, P90        float64
		Expected              *float64
	}]
	b.do(call{method: "GET", path: site + "/forecast?from=2026-07-11&days=1", token: viewer}).is(200).into(&ranges)
	require.Len(t, ranges.Rows, 2)
	require.Contains(t, ranges.Rows[0].Basis, "Saturday")
	require.Greater(t, ranges.Rows[0].Mean, 20.0)

	// The manager enters a street fair and numbers for the drink without history.
	b.put(site+"/expected-demand", map[string]any{"rows": []any{
		map[string]any{"date": "2026-07-11", "day_part": "afternoon", "drink": "iced", "expected": 90, "p10": 60, "p90": 140},
		map[string]any{"date": "2026-07-11", "day_part": "afternoon", "drink": "long", "expected": 20},
	}}).is(200)
	b.put(site+"/events", map[string]any{"events": []any{map[string]any{"from": "2026-07-11T13:00:00+02:00", "to": "2026-07-11T17:00:00+02:00", "name": "street fair"}}}).is(200)
	var hours []any
	for h := range 24 {
		at := time.Date(2026, 7, 10, 22+h, 0, 0, 0, time.UTC)
		hours = append(hours, map[string]any{"at": at.Format(time.RFC3339), "temp_c": 22 + float64(min(h, 24-h))})
	}
	b.do(call{method: "PUT", path: site + "/weather", token: till, body: map[string]any{"kind": "forecast", "issued_at": "2026-07-10T10:00:00Z", "hours": hours}}).is(200)
	b.put(site+"/attention", map[string]any{"rows": []any{map[string]any{"from": "2026-07-11T12:00:00+02:00", "to": "2026-07-11T13:00:00+02:00", "starts": 0}}}).is(200)

	// A screen opens the live stream.
	screen := b.listen(site+"/live", viewer, "")
	hello := screen.next()
	require.Equal(t, "hello", hello.event)

	var plan models.Plan
	order := map[string]any{"from": "2026-07-11", "days": 1, "now": "2026-07-10T15:00:00+02:00"}
	made := b.post(site+"/plans", order).is(201)
	made.into(&plan)
	require.Equal(t, site+"/plans/1", made.header.Get("Location"))
	require.Equal(t, 1, plan.Revision)
	require.NotEmpty(t, plan.Batches)
	for _, batch := range plan.Batches {
		at := batch.Start.In(time.UTC)
		require.False(t, at.Hour() == 10, "no batch starts while nobody is free, 12:00 to 13:00 local time: %s", at)
	}
	e := screen.next()
	require.Equal(t, "plan", e.event)
	require.Contains(t, e.data, `"revision":1`)

	// Ordering the same plan again returns the same revision; reading it returns the same plan.
	again := b.post(site+"/plans", order).is(201)
	require.JSONEq(t, string(made.body), string(again.body))
	require.JSONEq(t, string(made.body), string(b.do(call{method: "GET", path: site + "/plans/latest", token: viewer}).is(200).body))
	var heads models.Rows[models.PlanHead]
	b.get(site + "/plans").is(200).into(&heads)
	require.Len(t, heads.Rows, 1)

	// Its inputs posted as a preview give the same plan without a revision.
	request := b.get(site + "/plans/1/request").is(200)
	var preview models.Plan
	b.do(call{method: "POST", path: "/v1/plan-previews", token: viewer, body: request.body}).is(403)
	b.do(call{method: "POST", path: "/v1/plan-previews", body: request.body}).is(200).into(&preview)
	require.Equal(t, plan.Digest, preview.Digest)
	require.Zero(t, preview.Revision)
	preview.Revision = plan.Revision
	require.Equal(t, plan.Batches, preview.Batches)

	// There is no sheet before publishing.
	b.do(call{method: "GET", path: site + "/prep-sheets/2026-07-11", token: viewer}).is(404).problem()
	var published struct {
		Revision    int
		PublishedAt time.Time `json:"published_at"`
		Sheets      []models.Date
	}
	b.post(site+"/plans/1/publish", nil).is(200).into(&published)
	require.Equal(t, []models.Date{"2026-07-11"}, published.Sheets)
	require.Equal(t, "sheet", screen.next().event)
	first := published.PublishedAt
	b.clock.advance(time.Hour)
	b.post(site+"/plans/latest/publish", map[string]any{}).is(200).into(&published)
	require.Equal(t, first, published.PublishedAt, "publishing again without changes makes no new sheet")

	var sheet models.PrepSheet
	b.do(call{method: "GET", path: site + "/prep-sheets/2026-07-11", token: viewer, header: map[string]string{"Accept": "*/*"}}).is(200).into(&sheet)
	require.Equal(t, 1, sheet.Revision)
	page := b.do(call{method: "GET", path: site + "/prep-sheets/2026-07-11", token: viewer, header: map[string]string{"Accept": "text/html,application/json;q=0.5"}}).is(200)
	require.Contains(t, page.header.Get("Content-Type"), "text/html")
	require.Contains(t, string(page.body), "Saturday 11 July 2026")
	require.NotContains(t, string(page.body), "<script")
	b.do(call{method: "GET", path: site + "/prep-sheets/2026-07-11", header: map[string]string{"Accept": "image/png"}}).is(406).problem()

	// The kitchen brews less than planned; a repeated mark counts once.
	var brew models.Task
	for _, task := range sheet.Tasks {
		if task.Kind == models.TaskBrew {
			brew = task
			break
		}
	}
	require.NotEmpty(t, brew.ID)
	b.clock.advance(brew.At.Sub(b.clock.Now()))
	mark := func(state, key string, more map[string]any) map[string]any {
		m := map[string]any{"state": state, "at": b.clock.Now().Format(time.RFC3339), "key": key}
		for k, v := range more {
			m[k] = v
		}
		return m
	}
	marks := "/v1/tasks/" + brew.ID + "/marks"
	var marked struct {
		State           string
		Added, Replaced bool
	}
	b.do(call{method: "POST", path: marks, token: kitchen, body: mark("started", "wall-1", nil)}).is(200).into(&marked)
	require.Equal(t, "started", marked.State)
	require.Equal(t, "mark", screen.next().event)
	b.do(call{method: "POST", path: marks, token: kitchen, body: mark("started", "wall-1", nil)}).is(200).into(&marked)
	require.False(t, marked.Added)
	b.do(call{method: "POST", path: marks, token: kitchen, body: mark("due", "wall-2", nil)}).is(200).into(&marked)
	require.Equal(t, "due", marked.State, "due undoes the last mark")
	b.do(call{method: "POST", path: marks, token: kitchen, body: mark("made", "wall-3", map[string]any{"beverage_g": 1200, "tds_pct": 1.38})}).is(200).into(&marked)
	require.Equal(t, "made", marked.State)
	b.do(call{method: "GET", path: site + "/prep-sheets/2026-07-11", token: viewer}).is(200).into(&sheet)
	for _, task := range sheet.Tasks {
		if task.ID == brew.ID {
			require.Equal(t, "made", task.State)
		}
	}

	// Stock is counted and ice is bought.
	b.clock.advance(30 * time.Minute)
	now := b.clock.Now().Format(time.RFC3339)
	b.do(call{method: "POST", path: site + "/stock-counts", token: kitchen, body: map[string]any{"counted_at": now, "ice_g": 4000,
		"beverages": []any{map[string]any{"beverage": "flash", "g": 1150, "made_at": now}}}}).is(200)
	b.do(call{method: "POST", path: site + "/stock-changes", token: kitchen, body: map[string]any{"rows": []any{map[string]any{"kind": "bought_in", "ice_g": 10000, "at": now}}}}).is(200)
	b.do(call{method: "POST", path: site + "/off-sale", token: kitchen, body: map[string]any{"rows": []any{map[string]any{"drink": "long", "from": now}}}}).is(200)
	for _, list := range []string{"stock-counts", "stock-changes", "off-sale", "events", "attention", "outages", "expected-demand", "weather", "sales-counts", "warnings"} {
		b.do(call{method: "GET", path: site + "/" + list, token: viewer}).is(200)
	}

	// The rest of the day is replanned: the batch that was made stays, and the two plans can be compared.
	var replan models.Plan
	b.post(site+"/plans", map[string]any{"from": "2026-07-11", "days": 1}).is(201).into(&replan)
	require.Equal(t, 2, replan.Revision)
	require.Contains(t, replan.Made, models.UnderWayMade{Task: brew.ID, Kind: models.TaskBrew, State: models.Made}, "a replan keeps batches that are made")
	var changes struct {
		A, B int
		Rows []models.Change
	}
	b.get(site + "/plans/1/changes/2").is(200).into(&changes)
	require.Equal(t, 1, changes.A)
	require.NotEmpty(t, changes.Rows)
	b.post(site+"/plans/2/publish", nil).is(200).into(&published)
	require.Equal(t, 2, published.Revision)
	b.do(call{method: "GET", path: site + "/prep-sheets/2026-07-11", token: viewer}).is(200).into(&sheet)
	require.NotEmpty(t, sheet.Changes, "the new sheet lists its changes")
	require.True(t, slices.ContainsFunc(sheet.Tasks, func(task models.Task) bool { return task.ID == brew.ID && task.State == models.Made }))

	// A screen that reconnects after the first plan gets every later event once and in order.
	late := b.listen(site+"/live", viewer, e.id)
	require.Equal(t, e.id, late.next().id, "the hello repeats the screen's position")
	var kinds []string
	for {
		k := late.next()
		kinds = append(kinds, k.event)
		if k.event == "sheet" && strings.Contains(k.data, `"revision":2`) {
			break
		}
	}
	require.Equal(t, []string{"sheet", "mark", "mark", "mark", "stock", "stock", "demand", "plan", "sheet"}, kinds)
}

// screenStream is a screen's live stream.
type screenStream struct {
	t      testing.TB
	lines  *bufio.Scanner
	cancel context.CancelFunc
}

type sse struct{ id, event, data string }

func (b *bundle) listen(path, token, lastID string) *screenStream {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	b.t.Cleanup(cancel)
	req, err := http.NewRequestWithContext(ctx, "GET", b.base+path, nil)
	require.NoError(b.t, err)
	req.Header.Set("Authorization", "Bearer "+token)
	if lastID != "" {
		req.Header.Set("Last-Event-ID", lastID)
	}
	resp, err := http.DefaultClient.Do(req)
	require.NoError(b.t, err)
	b.t.Cleanup(func() { resp.Body.Close() })
	require.Equal(b.t, 200, resp.StatusCode)
	require.Equal(b.t, "text/event-stream", resp.Header.Get("Content-Type"))
	return &screenStream{t: b.t, lines: bufio.NewScanner(resp.Body), cancel: cancel}
}

// next returns the next event, skipping heartbeats.
func (s *screenStream) next() sse {
	s.t.Helper()
	var e sse
	for s.lines.Scan() {
		field, value, _ := strings.Cut(s.lines.Text(), ": ")
		switch field {
		case "id":
			e.id = value
		case "event":
			e.event = value
		case "data":
			e.data = value
		case "":
			if e.event != "" && e.event != "beat" {
				return e
			}
			e = sse{}
		}
	}
	require.FailNow(s.t, "the stream ended", fmt.Sprint(s.lines.Err()))
	return e
}
