package jobs

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestShopsOfOneZoneDoNotBeginAtTheSameSecond(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T17:49:30+02:00") // a Wednesday
	setup, _, err := s.Store.Setup(t.Context(), s.site)
	require.NoError(t, err)
	const shops = 120
	require.NoError(t, s.Store.Within(t.Context(), func(tx models.Store) error {
		for n := range shops - 1 {
			setup.Site.Code = fmt.Sprint("shop-", n)
			if _, _, err := tx.PutSetup(t.Context(), setup, "", s.now); err != nil {
				return err
			}
		}
		return nil
	}))
	s.CatchUp = 2 * time.Minute
	ctx, stop := context.WithCancel(t.Context())
	end := s.now.Add(11 * time.Minute)
	s.Wait = func(ctx context.Context, at time.Time) error {
		if at.After(end) {
			stop()
			return ctx.Err()
		}
		s.now = models.Later(s.now, at)
		return nil
	}
	s.begun = map[string]time.Time{}
	require.ErrorIs(t, s.runSchedules(ctx), context.Canceled)
	seconds := map[string]map[int64]int{models.JobPublish: {}, models.JobWatch: {}}
	published := 0
	for name, at := range s.begun {
		var kind, site string
		_, err := fmt.Sscan(name, &kind, &site)
		require.NoError(t, err)
		if kind == models.JobPublish {
			published++
			require.False(t, at.Before(s.local("17:54")), at)
			require.True(t, at.Before(s.local("18:00")), "the sheet is to be there by then; %s began at %s", site, at)
		}
		if of := seconds[kind]; of != nil {
			of[at.Unix()]++
		}
	}
	require.Equal(t, shops, published)
	for kind, of := range seconds {
		require.Greater(t, len(of), shops/2, kind)
		for at, n := range of {
			require.LessOrEqual(t, n, 6, "%s at %s", kind, time.Unix(at, 0))
		}
	}
}

func (s *shop) local(clock string) time.Time {
	at, err := time.Parse("2006-01-02 15:04 -0700", "2026-07-08 "+clock+" +0200")
	require.NoError(s.t, err)
	return at
}

func TestAShopsTimeStaysTheSame(t *testing.T) {
	t.Parallel()
	require.Equal(t, "29m20s", refitSpread.of("lido").Round(time.Second).String(), "over restarts and versions")
	for n := range 1000 {
		at := refitSpread.of(fmt.Sprint("shop-", n))
		require.True(t, at >= 0 && at < 30*time.Minute, at)
	}
}
