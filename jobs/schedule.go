package jobs

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/robfig/cron/v3"

	"hotday/models"
)

// checkInterval is the interval between checks of the schedules, the resolution of cron expressions.
const checkInterval = time.Minute

// schedule is a cron expression and the job to enqueue when it fires; ok is false for none.
type schedule struct {
	expression string
	spread     spread
	job        func(site models.Site, fired time.Time) (j models.Job, ok bool)
}

func (c Config) schedules() []schedule {
	return []schedule{
		{c.PublishAt, publishSpread, func(site models.Site, fired time.Time) (models.Job, bool) {
			d, ok := nextServiceDay(site, fired)
			return models.Job{Kind: models.JobPublish, Site: site.Code, Key: string(d)}, ok
		}},
		{c.RefitAt, refitSpread, func(site models.Site, fired time.Time) (models.Job, bool) {
			return models.Job{Kind: models.JobRefit, Site: site.Code, Key: string(site.ServiceDayOf(fired))}, true
		}},
		{c.WatchAt, watchSpread, func(site models.Site, fired time.Time) (models.Job, bool) {
			return models.Job{Kind: models.JobWatch, Site: site.Code, Key: fired.UTC().Format(time.RFC3339)}, staffed(site, fired)
		}},
		{c.ReviewAt, reviewSpread, func(site models.Site, fired time.Time) (models.Job, bool) {
			return models.Job{Kind: models.JobReview, Site: site.Code, Key: string(site.ServiceDayOf(fired))}, c.Mail != nil
		}},
	}
}

// nextServiceDay returns the first day within a fortnight, after the service day of t, on which the shop opens.
func nextServiceDay(site models.Site, t time.Time) (models.Date, bool) {
	today := site.ServiceDayOf(t)
	for n := 1; n <= 14; n++ {
		if d := today.AddDays(n); len(site.OpenSpans(d)) > 0 {
			return d, true
		}
	}
	return "", false
}

// staffed reports whether staff are there to act on a warning: opening hours plus set-up before and after.
func staffed(site models.Site, t time.Time) bool {
	for _, s := range site.StaffSpans(site.ServiceDayOf(t)) {
		if s.Contains(t) {
			return true
		}
	}
	return false
}

func parse(expression, zone string) (cron.Schedule, error) {
	s, err := cron.ParseStandard("CRON_TZ=" + zone + " " + expression)
	if err != nil {
		return nil, fmt.Errorf("invalid schedule %q: %w; expected five fields, minute hour day month weekday, as in %q", expression, err, DefaultPublishAt)
	}
	return s, nil
}

func (c Config) checkExpressions() error {
	for _, s := range append(c.schedules(), schedule{expression: c.BackupAt}, schedule{expression: c.TidyAt}) {
		if _, err := parse(s.expression, "UTC"); err != nil {
			return err
		}
	}
	return nil
}

// lastFired returns the latest time in (since, now] at which the schedule fired; it stands for any earlier ones that were missed.
func lastFired(s cron.Schedule, since, now time.Time) (fired time.Time, ok bool) {
	for t := s.Next(since); !t.IsZero() && !t.After(now); t = s.Next(t) {
		fired, ok = t, true
	}
	return fired, ok
}

// check is the last check of a site's schedules, with what the next one needs of its set-up.
type check struct {
	at        time.Time
	etag      string // of the set-up that the rest is from; empty: none was read
	site      models.Site
	schedules []cron.Schedule // in the order of Config.schedules, in the site's time zone
}

// checks are the last checks by site, and that of the service's own schedules under wholeService.
type checks map[string]check

// runSchedules enqueues due jobs every minute until ctx ends: after a start those of all sites at once, then each site's at its second.
func (c Config) runSchedules(ctx context.Context) error {
	checked := checks{}
	err := c.check(ctx, c.Now(), checked)
	for {
		if err != nil && ctx.Err() == nil {
			c.Log.Error("checking the schedules failed; the next check catches up", "error", err)
		}
		minute := c.Now().Truncate(checkInterval).Add(checkInterval)
		if err := c.Wait(ctx, minute); err != nil {
			return err
		}
		err = c.checkInTurn(ctx, minute, checked)
	}
}

// check enqueues the jobs of the service and of every site that have become due since the last check. If a site fails, the next check
// catches up.
func (c Config) check(ctx context.Context, now time.Time, checked checks) error {
	sites, err := c.Store.Sites(ctx)
	if err != nil {
		return fmt.Errorf("list the sites: %w", err)
	}
	failed := c.queueNightly(ctx, now, checked)
	for _, code := range sites {
		failed = errors.Join(failed, c.checkAt(ctx, code, now, checked))
	}
	return failed
}

// checkInTurn is check for a minute, with each site at its second.
func (c Config) checkInTurn(ctx context.Context, minute time.Time, checked checks) error {
	sites, err := c.Store.Sites(ctx)
	if err != nil {
		return fmt.Errorf("list the sites: %w", err)
	}
	failed := c.queueNightly(ctx, c.Now(), checked)
	slices.SortStableFunc(sites, func(a, b string) int { return cmp.Compare(secondOf(a), secondOf(b)) })
	for _, code := range sites {
		if err := c.Wait(ctx, minute.Add(secondOf(code))); err != nil {
			return err
		}
		failed = errors.Join(failed, c.checkAt(ctx, code, c.Now(), checked))
	}
	return failed
}

func (c Config) checkAt(ctx context.Context, code string, now time.Time, checked checks) error {
	last := checked[code]
	err := c.checkSite(ctx, code, &last, now)
	if models.CodeOf(err) == models.CodeNotFound { // deleted in the meantime
		delete(checked, code)
		return nil
	}
	if err != nil {
		return fmt.Errorf("check the schedules of site %s: %w", code, err)
	}
	last.at = now
	checked[code] = last
	return nil
}

// since is when the schedules were last checked, zero for never, but at most CatchUp ago.
func (c Config) since(checked, now time.Time) time.Time {
	return models.Later(checked, now.Add(-c.CatchUp))
}

// checkSite enqueues what has become due at a site since its last check, whose set-up and schedules it brings up to date.
func (c Config) checkSite(ctx context.Context, code string, last *check, now time.Time) error {
	if err := c.readSite(ctx, code, last); err != nil {
		return err
	}
	since := c.since(last.at, now)
	for n, s := range c.schedules() {
		shift := s.spread.of(code)
		fired, ok := lastFired(last.schedules[n], since.Add(-shift), now.Add(-shift))
		if !ok {
			continue
		}
		j, ok := s.job(last.site, fired)
		if !ok {
			continue
		}
		added, err := c.Store.Enqueue(ctx, j)
		if err != nil {
			return fmt.Errorf("enqueue %s: %w", j.Kind, err)
		}
		if added {
			c.Log.Debug("job queued", "job", j.Kind, "site", j.Site, "key", j.Key)
		}
	}
	return c.queueWeather(ctx, last.site, now)
}

// readSite reads a site's set-up if it has changed since the last check: thousands of shops are checked each minute.
func (c Config) readSite(ctx context.Context, code string, last *check) error {
	etag, err := c.Store.SetupETag(ctx, code)
	if err != nil || etag == last.etag {
		return err
	}
	setup, etag, err := c.Store.Setup(ctx, code)
	if err != nil {
		return err
	}
	var parsed []cron.Schedule
	for _, s := range c.schedules() {
		p, err := parse(s.expression, setup.Site.Timezone)
		if err != nil {
			return err
		}
		parsed = append(parsed, p)
	}
	last.etag, last.site, last.schedules = etag, setup.Site, parsed
	return nil
}
