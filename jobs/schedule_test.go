package jobs

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
)

// checkEveryMinute checks the schedules every minute from one instant to another, as runSchedules does.
func (s *shop) checkEveryMinute(from, to time.Time) {
	s.t.Helper()
	checked := checks{s.site: {at: from}}
	for now := from; !now.After(to); now = now.Add(time.Minute) {
		s.now = now
		require.NoError(s.t, s.check(s.t.Context(), now, checked))
	}
}

func TestEachEveningPublishesTheNextServiceDayOnce(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		from     string
		hours    int
		days     []string
		instants []string
	}{
		"summer":            {"2026-07-07T00:00:00+02:00", 48, []string{"2026-07-08", "2026-07-09"}, nil},
		"a day of 23 hours": {"2026-03-28T00:00:00+01:00", 72, []string{"2026-03-29", "2026-03-30", "2026-03-31"}, nil},
		"a day of 25 hours": {"2026-10-24T00:00:00+02:00", 72, []string{"2026-10-25", "2026-10-26", "2026-10-27"}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			s := newShop(t, c.from)
			s.checkEveryMinute(s.now, s.now.Add(time.Duration(c.hours)*time.Hour))
			var days []string
			for _, j := range s.take(models.JobPublish) {
				days = append(days, j.Key)
			}
			require.Equal(t, c.days, days)
		})
	}
}

func TestSchedulesUseTheSitesTimeZone(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T15:54:00Z") // 17:54 in the site's zone
	checked := checks{s.site: {at: s.now}}
	require.NoError(t, s.check(t.Context(), s.now, checked))
	require.Empty(t, s.take(models.JobPublish))
	require.NoError(t, s.check(t.Context(), s.now.Add(6*time.Minute), checked))
	require.Len(t, s.take(models.JobPublish), 1)
}

func TestAChangedTimeZoneCountsFromTheNextCheck(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T15:54:00Z")
	checked := checks{s.site: {at: s.now}}
	require.NoError(t, s.check(t.Context(), s.now, checked))
	require.Empty(t, s.take(models.JobPublish), "17:54 in the site's zone")
	setup, etag, err := s.Store.Setup(t.Context(), s.site)
	require.NoError(t, err)
	setup.Site.Timezone = "Europe/Lisbon"
	_, _, err = s.Store.PutSetup(t.Context(), setup, etag, s.now)
	require.NoError(t, err)
	require.NoError(t, s.check(t.Context(), s.now.Add(6*time.Minute), checked))
	require.Empty(t, s.take(models.JobPublish), "17:00 in the new zone")
	require.NoError(t, s.check(t.Context(), s.now.Add(66*time.Minute), checked))
	require.Len(t, s.take(models.JobPublish), 1)
}

func BenchmarkCheckingTheSchedules(b *testing.B) {
	s := newShop(b, "2026-07-08T12:00:00+02:00")
	setup, _, err := s.Store.Setup(b.Context(), s.site)
	require.NoError(b, err)
	for n := range 199 {
		setup.Site.Code = fmt.Sprintf("shop-%03d", n)
		_, _, err := s.Store.PutSetup(b.Context(), setup, "", s.now)
		require.NoError(b, err)
	}
	checked := checks{}
	require.NoError(b, s.check(b.Context(), s.now, checked))
	b.ReportAllocs()
	for b.Loop() {
		require.NoError(b, s.check(b.Context(), s.now.Add(time.Second), checked))
	}
}

func TestCatchUpAfterAStartRunsTheLastEveningOnly(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-10T07:30:00+02:00")
	require.NoError(t, s.check(t.Context(), s.now, checks{}))
	jobs := s.take(models.JobPublish)
	require.Len(t, jobs, 1)
	require.Equal(t, "2026-07-10", jobs[0].Key, "yesterday evening's sheet is for today")

	require.NoError(t, s.check(t.Context(), s.now.Add(time.Minute), checks{}), "another start of the process")
	require.Empty(t, s.take(models.JobPublish))
}

func TestCatchUpAfterDaysOfSleepRunsEachScheduleOnce(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-10T07:30:00+02:00")
	require.NoError(t, s.check(t.Context(), s.now, checks{s.site: {at: s.now.AddDate(0, 0, -4)}}))
	require.Len(t, s.queue, 4, "publish, refit, watch and tidy")
}

func TestNewSiteIsScheduled(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T17:58:00+02:00")
	checked := checks{}
	require.NoError(t, s.check(t.Context(), s.now, checked))
	setup, _, err := s.Store.Setup(t.Context(), s.site)
	require.NoError(t, err)
	setup.Site.Code = "second"
	_, _, err = s.Store.PutSetup(t.Context(), setup, "", s.now)
	require.NoError(t, err)
	s.take("")
	require.NoError(t, s.check(t.Context(), s.now.Add(2*time.Minute), checked))
	jobs := s.take(models.JobPublish)
	require.Len(t, jobs, 2)
	require.ElementsMatch(t, []string{s.site, "second"}, []string{jobs[0].Site, jobs[1].Site})
}

func TestWatchRunsEveryTenMinutesWhileStaffed(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T00:00:00+02:00") // a Wednesday, 07:00–18:00, set-up an hour either side
	s.checkEveryMinute(s.now, s.now.Add(24*time.Hour-time.Minute))
	jobs := s.take(models.JobWatch)
	require.Len(t, jobs, 13*6)
	require.Equal(t, "2026-07-08T04:00:00Z", jobs[0].Key)
	require.Equal(t, "2026-07-08T16:50:00Z", jobs[len(jobs)-1].Key)
}

func TestInvalidScheduleIsRejectedAtStart(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T00:00:00+02:00")
	s.PublishAt = "at six"
	require.ErrorContains(t, Run(t.Context(), s.Config), `"at six"`)
}

// A machine's clock is put right while the service runs: back by hours, then forward by a month.
func TestClockPutBackAndForwardRepeatsNothing(t *testing.T) {
	t.Parallel()
	s := newShop(t, "2026-07-08T12:00:00+02:00")
	checked := checks{s.site: {at: s.now}}
	pass := func(from time.Time, minutes int) {
		for n := range minutes {
			s.now = from.Add(time.Duration(n) * time.Minute)
			require.NoError(t, s.check(t.Context(), s.now, checked))
		}
	}
	published := func() (days []string) {
		for _, j := range s.take(models.JobPublish) {
			days = append(days, j.Key)
		}
		return days
	}
	start := s.now
	pass(start, 7*60) // to 19:00
	require.Equal(t, []string{"2026-07-09"}, published())
	pass(start.Add(3*time.Hour), 4*60) // back to 15:00 and on to 19:00 again
	require.Empty(t, s.queue, "what ran in those hours is not repeated")
	pass(start.Add(20*time.Hour), 30)
	require.NotEmpty(t, s.take(models.JobWatch), "the next morning the checks go on")
	pass(start.AddDate(0, 0, 30), 2)
	require.Equal(t, []string{"2026-08-07"}, published(), "of the month that never was, the last evening alone, whose sheet is for today")
}
