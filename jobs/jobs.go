// Package jobs is what happens without being asked: the prep sheet of the next service day published every evening, the day
// watched for what runs short, and the rest of the day planned anew when something changed what is possible.
//
// A schedule loop turns cron expressions in each site's own time into jobs of the durable queue; a worker does them. A job is
// known by (kind, site, key), so many replicas may run the loop: one effect. What a job changes is written in the transaction
// that marks it done.
package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
)

// Config is what the jobs need. Store and Worker must be given; everything else has a default.
type Config struct {
	Store  models.Store
	Worker models.Worker
	Now    func() time.Time // time.Now
	Log    *slog.Logger     // slog.Default

	PublishAt string // cron expression in site time of the evening's publishing: "0 18 * * *"
	RefitAt   string // cron expression in site time of the forecast's nightly learning: "30 3 * * *"
	WatchAt   string // cron expression in site time of the looks through the day: "*/10 * * * *"

	PrivateWebhooks bool // webhooks may go to addresses of this machine and of private networks, and by http

	// CatchUp is how far back a process that has just started, or slept, looks for what it missed: DefaultCatchUp.
	CatchUp time.Duration

	// Wait returns when it is at, or with ctx's error; tests put their own clock here.
	Wait func(ctx context.Context, at time.Time) error

	Gather  func(ctx context.Context, s models.Store, q facts.GatherQuery) (models.PlanRequest, error)
	Compute func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error)

	hooks *http.Client
}

// Defaults of a Config.
const (
	DefaultPublishAt = "0 18 * * *"
	DefaultRefitAt   = "30 3 * * *"
	DefaultWatchAt   = "*/10 * * * *"
	DefaultCatchUp   = 24 * time.Hour // longer ago, the day has passed
)

func (c Config) withDefaults() Config {
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	if c.PublishAt == "" {
		c.PublishAt = DefaultPublishAt
	}
	if c.RefitAt == "" {
		c.RefitAt = DefaultRefitAt
	}
	if c.WatchAt == "" {
		c.WatchAt = DefaultWatchAt
	}
	if c.CatchUp <= 0 {
		c.CatchUp = DefaultCatchUp
	}
	if c.Wait == nil {
		c.Wait = wait
	}
	c.hooks = hookClient(c.PrivateWebhooks)
	if c.Gather == nil {
		c.Gather = facts.Gather
	}
	if c.Compute == nil {
		c.Compute = planner.ComputeWith
	}
	return c
}

// Run keeps the schedules and does the work until ctx ends, then finishes or hands back what it holds. It returns nil when ctx
// ended it, and an error for a cron expression that cannot be read.
func Run(ctx context.Context, c Config) error {
	c = c.withDefaults()
	if err := c.checkExpressions(); err != nil {
		return err
	}
	g, both := errgroup.WithContext(ctx)
	g.Go(func() error { return c.Worker.Run(both, c.work()) })
	g.Go(func() error { return c.keepSchedules(both) })
	err := g.Wait()
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		return nil
	}
	return err
}

// work is what is done for each kind of job.
func (c Config) work() map[string]models.Work {
	return map[string]models.Work{
		models.JobPublish: c.publish,
		models.JobWatch:   c.watch,
		models.JobReplan:  c.replan,
		models.JobRefit:   c.refit,
		models.JobReplay:  c.replay,
		models.JobDeliver: c.deliver,
	}
}

// wait is Config.Wait by the real clock.
func wait(ctx context.Context, at time.Time) error {
	t := time.NewTimer(time.Until(at))
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

// hopeless turns what a person must mend before any retry can help (no demand known, a broken set-up) into an event that says
// so; other errors stay and have the job tried again.
func (c Config) hopeless(j models.Job, doing string, err error) (func(models.Store) error, error) {
	var e *models.Error
	if !errors.As(err, &e) {
		return nil, fmt.Errorf("%s: %w", doing, err)
	}
	c.Log.Warn("a job cannot be done until somebody mends the data", "job", j.Kind, "site", j.Site, "key", j.Key, "problem", e.Error())
	if e.Code == models.CodeNotFound {
		return nil, nil
	}
	at := c.Now()
	return func(tx models.Store) error {
		return addEvent(context.Background(), tx, j.Site, "plan", at, map[string]any{"problem": doing + ": " + e.Error()})
	}, nil
}
