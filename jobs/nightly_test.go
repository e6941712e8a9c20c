package jobs

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

func TestBackupRunsOncePerNight(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T00:00:00Z")
	s.checkEveryMinute(s.now, s.now.Add(48*time.Hour))
	require.Empty(t, s.take(models.JobBackup), "nobody chose a directory")

	taken := 0
	s.Backup = func(context.Context) error { taken++; return nil }
	s.BackupAt = "30 2 * * *"
	checked := checks{}
	for now := s.now; !now.After(s.now.Add(72 * time.Hour)); now = now.Add(time.Minute) {
		require.NoError(t, s.check(t.Context(), now, checked))
	}
	queued := s.take(models.JobBackup)
	require.Len(t, queued, 4, "one missed before the start, three nights")
	require.Empty(t, queued[0].Site)
	s.do(queued[0])
	require.Equal(t, 1, taken)

	s.Backup = func(context.Context) error { return errors.New("disk full") }
	_, err := s.work()[models.JobBackup](t.Context(), queued[1])
	require.ErrorContains(t, err, "disk full", "so that the queue tries again")
}

func TestTidyGoesOnAfterASiteThatFails(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T00:00:00Z")
	s.Keep = models.Keep{"jobs": 1}
	_, err := s.work()[models.JobTidy](t.Context(), models.Job{Kind: models.JobTidy})
	require.ErrorContains(t, err, "at least 16 days")

	s.Keep = nil
	setup, _, err := s.Store.Setup(t.Context(), s.site)
	require.NoError(t, err)
	setup.Site.Code = "aaa-first"
	_, _, err = s.Store.PutSetup(t.Context(), setup, "", s.now)
	require.NoError(t, err)
	old := models.LiveEvent{Site: s.site, Kind: "mark", At: s.now.AddDate(0, 0, -20)}
	_, err = s.Store.AddEvent(t.Context(), old)
	require.NoError(t, err)
	s.Store = failingSite{s.Store, "aaa-first"}
	_, err = s.work()[models.JobTidy](t.Context(), models.Job{Kind: models.JobTidy})
	require.ErrorContains(t, err, "out of order", "so that the queue tries again")
	require.Empty(t, s.events("mark"))
}

// failingSite is a store that cannot tidy one site.
type failingSite struct {
	models.Store
	site string
}

func (f failingSite) TidySite(ctx context.Context, site string, keep models.Keep, now time.Time) (models.Tidied, error) {
	if site == f.site {
		return models.Tidied{}, errors.New("out of order")
	}
	return f.Store.TidySite(ctx, site, keep, now)
}
