package store_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/models/store"
)

func open(t *testing.T) *store.Store {
	t.Helper()
	s, err := store.Open(context.Background(), filepath.Join(t.TempDir(), "shop.db"), store.WithPoll(10*time.Millisecond), store.WithRetry(func(int) time.Duration { return time.Millisecond }))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func TestSmoke(t *testing.T) {
	ctx := context.Background()
	s := open(t)
	_, made, err := s.PutSetup(ctx, models.Setup{Site: models.Site{Code: "shop"}}, "", time.Now())
	require.NoError(t, err)
	require.True(t, made)
	r, err := s.PutCounts(ctx, "shop", models.SalesPost{Source: "till", Counts: []models.SalesCount{{Item: "a", WindowStart: time.UnixMilli(0), WindowEnd: time.UnixMilli(900000), Count: 2}}}, time.Now(), "k", "h")
	require.NoError(t, err)
	require.Equal(t, 1, r.New)
	added, err := s.Enqueue(ctx, models.Job{Kind: "publish", Site: "shop", Key: "1"})
	require.NoError(t, err)
	require.True(t, added)
	added, err = s.Enqueue(ctx, models.Job{Kind: "publish", Site: "shop", Key: "1"})
	require.NoError(t, err)
	require.False(t, added)
	run, cancel := context.WithCancel(ctx)
	n := 0
	err = s.Run(run, map[string]models.Work{"publish": func(ctx context.Context, j models.Job) (func(models.Store) error, error) {
		return func(tx models.Store) error {
			n++
			if n == 2 {
				cancel()
			}
			if n == 1 {
				panic("x")
			}
			_, err := tx.AddEvent(ctx, models.LiveEvent{Site: "shop", Kind: "plan", At: time.Now()})
			return err
		}, nil
	}})
	require.NoError(t, err)
	id, err := s.LastEventID(ctx, "shop")
	require.NoError(t, err)
	require.EqualValues(t, 1, id)
	added, err = s.Enqueue(ctx, models.Job{Kind: "publish", Site: "shop", Key: "1"})
	require.NoError(t, err)
	require.False(t, added)
}
