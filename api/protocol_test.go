package api_test

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

func TestHTTPProtocol(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	a := b.do(call{method: "DELETE", path: "/v1/sites/quay/setup"}).is(405)
	a.problem()
	require.Contains(t, a.header.Get("Allow"), "GET")
	require.Contains(t, a.header.Get("Allow"), "PUT")
	b.get("/v1/nothing").is(404).problem()
	b.get("/v1/sites/quay/plans/").is(404).problem()
	b.get("/v1/sites/quay/plans/0").is(404).problem()
	b.get("/v1/sites/quay/plans/first").is(404).problem()
	b.get("/v1/sites/quay/plans/latest").is(404).problem()
	b.get("/v1/sites/quay/prep-sheets/tomorrow").is(404).problem()

	counts := call{method: "POST", path: "/v1/sites/quay/sales-counts", body: sales(saleRow(nil))}
	for _, media := range []string{"text/plain", "application/x-www-form-urlencoded", "application/json; charset=latin1", "json"} {
		counts.header = map[string]string{"Content-Type": media}
		b.do(counts).is(415).problem()
	}
	counts.header = map[string]string{"Content-Encoding": "br"}
	b.do(counts).is(415)
	counts.header = map[string]string{"Content-Type": ""}
	require.Contains(t, b.raw(counts).is(415).problem().Detail, "application/json", "a body needs a Content-Type")
	counts.header = map[string]string{"Content-Type": "application/json; charset=utf-8"}
	b.do(counts).is(200)
	b.post("/v1/sites/quay/sales-counts", "\xff{}").is(400)
	head := b.raw(call{method: "HEAD", path: "/v1/sites/quay/setup"})
	require.Equal(t, 200, head.status)
	require.NotEmpty(t, head.header.Get("ETag"))
	require.Empty(t, head.body)
	h := b.get("/healthz").is(200).header
	require.Equal(t, "nosniff", h.Get("X-Content-Type-Options"))
	require.Contains(t, h.Get("Content-Security-Policy"), "script-src 'self'")
	require.NotContains(t, h.Get("Content-Security-Policy"), "unsafe")
	require.NotEmpty(t, h.Get("X-Request-Id"))
	require.Empty(t, h.Get("Strict-Transport-Security"))
	b.get("/openapi.css").is(200)
	empty := call{method: "POST", path: "/v1/sites/quay/plans/1/publish", header: map[string]string{"Content-Type": "application/x-www-form-urlencoded"}}
	b.do(empty).is(404) // the Content-Type of an empty body is ignored; the plan is missing
	page := b.get("/openapi").is(200)
	require.Contains(t, string(page.body), "POST /v1/sites/{site}/sales-counts")
	require.NotContains(t, string(page.body), "<script")
}

func TestSalesPostsAreIdempotentByKey(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	post := call{method: "POST", path: "/v1/sites/quay/sales-counts", body: sales(saleRow(nil)), header: map[string]string{"Idempotency-Key": "post-1"}}
	first := b.do(post).is(200)
	require.JSONEq(t, string(first.body), string(b.do(post).is(200).body), "the first response again")
	post.body = sales(saleRow(map[string]any{"count": 8}))
	b.do(post).is(409).problem()
	post.header["Idempotency-Key"] = strings.Repeat("k", 201)
	b.do(post).is(400)
	var rows models.Rows[models.SalesRow]
	b.get("/v1/sites/quay/sales-counts?source=till-1&item=ICED-M").is(200).into(&rows)
	require.Len(t, rows.Rows, 1)
	require.InDelta(t, 3, rows.Rows[0].Count, 0)
	require.Nil(t, rows.Rows[0].Drink)
}

func TestPagination(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	var events []any
	for i := range 5 {
		at := b.clock.Now().Add(time.Duration(i) * time.Hour)
		events = append(events, map[string]any{"from": at.Format(time.RFC3339), "to": at.Add(time.Hour).Format(time.RFC3339), "name": "e"})
	}
	b.put("/v1/sites/quay/events", map[string]any{"events": events}).is(200)
	var seen []models.Event
	path := "/v1/sites/quay/events?limit=2"
	for {
		var page models.Rows[models.Event]
		b.get(path).is(200).into(&page)
		require.LessOrEqual(t, len(page.Rows), 2)
		seen = append(seen, page.Rows...)
		if page.Next == nil {
			break
		}
		path = "/v1/sites/quay/events?limit=2&cursor=" + *page.Next
	}
	require.Len(t, seen, 5)
	for i := 1; i < len(seen); i++ {
		require.True(t, seen[i].From.After(seen[i-1].From))
	}
}

func TestAsyncPlanIsQueued(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	order := call{method: "POST", path: "/v1/sites/quay/plans", body: map[string]any{"from": "2026-07-11", "days": 1}, header: map[string]string{"Prefer": "respond-async, wait=10"}}
	a := b.do(order).is(202)
	require.Equal(t, "/v1/sites/quay/plans/latest", a.header.Get("Location"))
	require.Contains(t, string(a.body), `"after_revision":0`)
	got := make(chan models.Job, 1)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() {
		done <- b.store.Run(ctx, map[string]models.Work{models.JobPlan: func(_ context.Context, j models.Job) (func(models.Store) error, error) {
			got <- j
			return nil, nil
		}})
	}()
	j := <-got
	stop()
	require.NoError(t, <-done)
	require.Equal(t, "quay", j.Site)
	var o models.PlanOrder
	require.NoError(t, json.Unmarshal(j.Args, &o))
	require.Equal(t, models.PlanOrder{From: "2026-07-11", Days: 1, OrderedAt: o.OrderedAt}, o)
	var work struct{ Rows []models.Progress }
	b.get("/v1/sites/quay/work").is(200).into(&work)
	require.Len(t, work.Rows, 1, "it shows as soon as it is ordered")
	require.Equal(t, models.StepQueued, work.Rows[0].Step)
	order.path = "/v1/sites/pier/plans"
	b.do(order).is(404)
}

// brokenStore fails on demand.
type brokenStore struct {
	models.Store
	events bool // AddEvent fails
	panics bool // Setup panics
}

func (s *brokenStore) Within(ctx context.Context, fn func(models.Store) error) error {
	return s.Store.Within(ctx, func(tx models.Store) error { return fn(&brokenStore{tx, s.events, s.panics}) })
}

func (s *brokenStore) AddEvent(ctx context.Context, e models.LiveEvent) (int64, error) {
	if s.events {
		return 0, errors.New("disk full at /var/secret")
	}
	return s.Store.AddEvent(ctx, e)
}

func (s *brokenStore) Setup(ctx context.Context, site string) (models.Setup, string, error) {
	if s.panics {
		panic("a bug of ours")
	}
	return s.Store.Setup(ctx, site)
}

// Data, live event and jobs are one transaction.
func TestFailureHalfwayStoresNothing(t *testing.T) {
	t.Parallel()
	broken := &brokenStore{}
	b := newBundle(t, func(c *api.Config) { broken.Store, c.Store = c.Store, broken })
	etag := b.setUp("quay")
	before := b.state("quay")
	broken.events = true
	for _, a := range []answer{
		b.post("/v1/sites/quay/sales-counts", sales(saleRow(nil))),
		b.put("/v1/sites/quay/expected-demand", rowsOf(map[string]any{"date": "2026-07-11", "day_part": "morning", "drink": "iced", "expected": 30})),
		b.post("/v1/sites/quay/stock-counts", map[string]any{"counted_at": "2026-07-10T12:00:00Z", "ice_g": 5}),
		b.do(call{method: "PUT", path: "/v1/sites/quay/setup", body: edit(shop("quay"), 9, "site", "altitude_m"), header: map[string]string{"If-Match": etag}}),
	} {
		p := a.is(500).problem()
		require.NotContains(t, string(a.body), "secret", "internal errors are not disclosed")
		require.Equal(t, "/problems/internal", p.Type)
	}
	require.Equal(t, before, b.state("quay"))
	require.Contains(t, b.log.String(), "disk full")
}

func TestPanicGives500AndIsLogged(t *testing.T) {
	t.Parallel()
	broken := &brokenStore{panics: true}
	b := newBundle(t, func(c *api.Config) { broken.Store, c.Store = c.Store, broken })
	b.get("/v1/sites/quay/setup").is(500).problem()
	require.Contains(t, b.log.String(), "a bug of ours")
	b.get("/healthz").is(200)
}

func TestLiveStreamEndsWhenItsTokenIsRevoked(t *testing.T) {
	t.Parallel()
	b := newBundle(t, func(c *api.Config) { c.Heartbeat = time.Millisecond })
	b.setUp("quay")
	var made struct{ ID, Secret string }
	b.post("/v1/tokens", map[string]any{"scopes": []string{"read"}, "site": "quay"}).is(201).into(&made)
	screen := b.listen("/v1/sites/quay/live", made.Secret, "")
	require.Equal(t, "hello", screen.next().event)
	require.True(t, screen.lines.Scan())
	require.Equal(t, "event: beat", screen.lines.Text(), "heartbeats are events that scripts can see")
	b.do(call{method: "DELETE", path: "/v1/tokens/" + made.ID}).is(204)
	for screen.lines.Scan() { // until the server ends it
	}
	require.NoError(t, screen.lines.Err())
}

func TestShutdownEndsLiveStreams(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	screen := b.listen("/v1/sites/quay/live", b.token, "")
	require.Equal(t, "hello", screen.next().event)
	require.NoError(t, b.stop())
	for screen.lines.Scan() {
	}
	require.NoError(t, screen.lines.Err())
}
