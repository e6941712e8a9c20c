package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
	"hotday/planner/cores"
)

// The only core is taken, so that everything slow waits.
func TestSlowComputationsHaveOnePlaceAKeyAndQuickOnesPass(t *testing.T) {
	t.Parallel()
	only := cores.New(1)
	release, err := only.ForPeople(t.Context())
	require.NoError(t, err)
	b := newBundle(t, func(c *api.Config) { c.Cores = only })
	b.setUp("quay")
	preview := previewOf(func(map[string]any) {})
	text, err := json.Marshal(preview)
	require.NoError(t, err)
	ctx, leave := context.WithCancel(t.Context())
	defer leave()
	left := make(chan error, 1)
	go func() {
		req, err := http.NewRequestWithContext(ctx, http.MethodPost, b.base+"/v1/plan-previews", bytes.NewReader(text))
		if err == nil {
			req.Header.Set("Content-Type", "application/json")
			req.Header.Set("Authorization", "Bearer "+b.token)
			_, err = http.DefaultClient.Do(req) //nolint:bodyclose // it fails
		}
		left <- err
	}()
	waiting := func(n int) {
		t.Helper()
		require.Eventually(t, func() bool { people, _ := only.Waiting(); return people == n }, time.Minute, time.Millisecond)
	}
	waiting(1)
	a := b.post("/v1/plan-previews", preview).is(http.StatusTooManyRequests)
	require.NotEmpty(t, a.header.Get("Retry-After"))
	require.Contains(t, a.problem().Detail, "plan or slow calculation of yours")
	forecast := map[string]any{"history": []any{}, "ahead": []any{}, "levels": []any{0.5}}
	b.do(call{method: "POST", path: "/v1/calc/forecast", body: forecast}).is(http.StatusTooManyRequests) // slow too
	for _, token := range []string{"", b.newToken("quay", models.ScopeRead)} {
		b.do(call{method: "POST", path: "/v1/calc/heat-index", token: token, body: map[string]any{"temp_c": 32, "humidity_pct": 60}}).is(http.StatusOK)
	}
	leave()
	require.ErrorIs(t, <-left, context.Canceled)
	waiting(0) // who has left is not computed for
	release()
	b.post("/v1/plan-previews", preview).is(http.StatusOK)
}

func TestAComputationEndsAfterItsTime(t *testing.T) {
	t.Parallel()
	only := cores.New(1)
	release, err := only.ForPeople(t.Context())
	require.NoError(t, err)
	defer release()
	b := newBundle(t, func(c *api.Config) { c.Cores, c.ComputeTime = only, 50*time.Millisecond })
	a := b.post("/v1/plan-previews", previewOf(func(map[string]any) {})).is(http.StatusServiceUnavailable)
	require.Equal(t, "30", a.header.Get("Retry-After"))
	p := a.problem()
	require.Equal(t, "/problems/busy", p.Type)
	require.Contains(t, p.Detail, "50ms")
}

func TestPreviewsNeedManage(t *testing.T) {
	t.Parallel()
	b := newBundle(t)
	b.setUp("quay")
	for _, scope := range []string{models.ScopeRead, models.ScopeKitchen, models.ScopeSales} {
		b.do(call{method: "POST", path: "/v1/plan-previews", token: b.newToken("quay", scope), body: previewOf(func(map[string]any) {})}).is(http.StatusForbidden)
	}
}
