package store_test

import (
	"context"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestRequestsReadHoweverMuchJobsRead(t *testing.T) {
	t.Parallel()
	s := withShop(t, openSQLite)
	wait, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	reading := make(chan struct{}, 20)
	for range 20 { // more than there are connections
		wg.Go(func() {
			_ = s.ForJobs().Read(wait, func(st models.Store) error {
				_, _, err := st.Setup(wait, shop)
				reading <- struct{}{}
				<-wait.Done()
				return err
			})
		})
	}
	for range 4 { // until they hold all that they may
		receive(t, reading)
	}
	_, _, err := s.Setup(ctx, shop)
	require.NoError(t, err)
	require.NoError(t, s.Read(ctx, func(st models.Store) error {
		_, _, err := st.Setup(ctx, shop)
		return err
	}))
	_, err = s.PutCounts(ctx, shop, post(count("flash", 0, 15, 1)), t0, "", "")
	require.NoError(t, err)
	cancel()
	wg.Wait()
}
