package jobs

import (
	"context"
	"fmt"
	"time"

	"github.com/robfig/cron/v3"

	"hotday/models"
)

// lookEvery is how often the schedules are looked at: the finest step that a cron expression has.
const lookEvery = time.Minute

// duty is a schedule and the job that each of its fires asks for; ok false asks for none.
type duty struct {
	expression string
	job        func(site models.Site, fire time.Time) (j models.Job, ok bool)
}

func (c Config) duties() []duty {
	return []duty{
		{c.PublishAt, func(site models.Site, fire time.Time) (models.Job, bool) {
			d, ok := nextServiceDay(site, fire)
			return models.Job{Kind: models.JobPublish, Site: site.Code, Key: string(d)}, ok
		}},
		{c.RefitAt, func(site models.Site, fire time.Time) (models.Job, bool) {
			return models.Job{Kind: models.JobRefit, Site: site.Code, Key: string(site.ServiceDayOf(fire))}, true
		}},
		{c.WatchAt, func(site models.Site, fire time.Time) (models.Job, bool) {
			return models.Job{Kind: models.JobWatch, Site: site.Code, Key: fire.UTC().Format(time.RFC3339)}, watched(site, fire)
		}},
	}
}

// nextServiceDay is the first day after that of an instant on which the shop opens, within a fortnight.
func nextServiceDay(site models.Site, t time.Time) (models.Date, bool) {
	today := site.ServiceDayOf(t)
	for n := 1; n <= 14; n++ {
		if d := today.AddDays(n); len(site.OpenSpans(d)) > 0 {
			return d, true
		}
	}
	return "", false
}

// watched reports whether somebody is there to act on a warning: opening hours with set-up before and after.
func watched(site models.Site, t time.Time) bool {
	for _, s := range site.PeopleSpans(site.ServiceDayOf(t)) {
		if s.Contains(t) {
			return true
		}
	}
	return false
}

func parse(expression, zone string) (cron.Schedule, error) {
	s, err := cron.ParseStandard("CRON_TZ=" + zone + " " + expression)
	if err != nil {
		return nil, fmt.Errorf("read the schedule %q: %w; it has five fields, minute hour day month weekday, as in %q", expression, err, DefaultPublishAt)
	}
	return s, nil
}

func (c Config) checkExpressions() error {
	for _, d := range c.duties() {
		if _, err := parse(d.expression, "UTC"); err != nil {
			return err
		}
	}
	return nil
}

// lastFire is the latest fire in (since, now]; earlier ones that were missed are made good by it.
func lastFire(s cron.Schedule, since, now time.Time) (fire time.Time, ok bool) {
	for t := s.Next(since); !t.IsZero() && !t.After(now); t = s.Next(t) {
		fire, ok = t, true
	}
	return fire, ok
}

// keepSchedules asks for the jobs that are due, minute by minute, until ctx ends.
func (c Config) keepSchedules(ctx context.Context) error {
	looked := map[string]time.Time{}
	for {
		now := c.Now()
		if err := c.look(ctx, now, looked); err != nil && ctx.Err() == nil {
			c.Log.Error("the schedules could not be looked at; the next look catches up", "error", err)
		}
		if err := c.Wait(ctx, now.Truncate(lookEvery).Add(lookEvery)); err != nil {
			return err
		}
	}
}

// look enqueues for every site what fired since it was last looked at. A site that fails keeps its last look and is caught up
// with the next time.
func (c Config) look(ctx context.Context, now time.Time, looked map[string]time.Time) error {
	sites, err := c.Store.Sites(ctx)
	if err != nil {
		return fmt.Errorf("list the sites: %w", err)
	}
	var failed error
	for _, code := range sites {
		since, known := looked[code]
		if !known || now.Sub(since) > c.CatchUp {
			since = now.Add(-c.CatchUp)
		}
		if err := c.lookAt(ctx, code, since, now); err != nil {
			failed = fmt.Errorf("look at site %s: %w", code, err)
			continue
		}
		looked[code] = now
	}
	return failed
}

func (c Config) lookAt(ctx context.Context, code string, since, now time.Time) error {
	setup, _, err := c.Store.Setup(ctx, code)
	if err != nil {
		return err
	}
	for _, d := range c.duties() {
		s, err := parse(d.expression, setup.Site.Timezone)
		if err != nil {
			return err
		}
		fire, fired := lastFire(s, since, now)
		if !fired {
			continue
		}
		j, wanted := d.job(setup.Site, fire)
		if !wanted {
			continue
		}
		added, err := c.Store.Enqueue(ctx, j)
		if err != nil {
			return fmt.Errorf("enqueue %s: %w", j.Kind, err)
		}
		if added {
			c.Log.Debug("job asked for", "job", j.Kind, "site", j.Site, "key", j.Key)
		}
	}
	return nil
}
