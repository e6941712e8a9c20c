package api_test

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/api"
	"hotday/models"
)

// fullDisk is a store on a disk that is full once full is set.
type fullDisk struct {
	models.Store
	full *atomic.Bool
}

func (f fullDisk) err() error {
	if f.full.Load() {
		return models.StorageError(models.StorageFull)
	}
	return nil
}

func (f fullDisk) Within(ctx context.Context, fn func(models.Store) error) error {
	if err := f.err(); err != nil {
		return err
	}
	return f.Store.Within(ctx, fn)
}

func (f fullDisk) Ready(ctx context.Context) error {
	if err := f.err(); err != nil {
		return err
	}
	return f.Store.Ready(ctx)
}

func (f fullDisk) StorageState() models.StorageState {
	state := f.Store.StorageState()
	if f.full.Load() {
		state.Problem = models.StorageFull
	}
	return state
}

func TestFullDiskIs503WithItsReasonAndReadingGoesOn(t *testing.T) {
	t.Parallel()
	var full atomic.Bool
	b := newBundle(t, func(c *api.Config) { c.Store = fullDisk{c.Store, &full} })
	b.setUp("quay")
	key := b.newToken("quay", "manage")
	send := func(method, path, body string) (*http.Response, map[string]any) {
		req, err := http.NewRequestWithContext(t.Context(), method, b.base+path, strings.NewReader(body))
		require.NoError(t, err)
		req.Header.Set("Authorization", "Bearer "+key)
		req.Header.Set("Content-Type", "application/json")
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		defer res.Body.Close()
		var doc map[string]any
		require.NoError(t, json.NewDecoder(res.Body).Decode(&doc))
		return res, doc
	}
	const events = `{"events":[{"name":"Fair","from":"2026-07-11T10:00:00Z","to":"2026-07-11T12:00:00Z","factor":1.2}]}`
	full.Store(true)
	res, doc := send("PUT", "/v1/sites/quay/events", events)
	require.Equal(t, http.StatusServiceUnavailable, res.StatusCode)
	require.Equal(t, "30", res.Header.Get("Retry-After"))
	require.Equal(t, "/problems/storage", doc["type"])
	require.Equal(t, "the disk is full; nothing was saved", doc["detail"])
	res, doc = send("GET", "/readyz", "")
	require.Equal(t, http.StatusServiceUnavailable, res.StatusCode)
	require.Equal(t, "the disk is full; nothing was saved", doc["detail"])
	res, _ = send("GET", "/v1/sites/quay/events", "")
	require.Equal(t, http.StatusOK, res.StatusCode)

	full.Store(false)
	res, _ = send("PUT", "/v1/sites/quay/events", events)
	require.Equal(t, http.StatusOK, res.StatusCode)
	require.Eventually(t, func() bool { // the answer is kept for a moment
		res, doc = send("GET", "/readyz", "")
		return res.StatusCode == http.StatusOK
	}, time.Minute, 50*time.Millisecond)
	require.Equal(t, "ready", doc["status"])
	require.Contains(t, doc, "queue_age_s")
	require.Contains(t, doc, "free_disk_mb")
}
