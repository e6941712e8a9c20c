// Package jobs is the background work: it publishes the next service day's prep sheet every evening, checks for shortages through
// the day, replans when circumstances change, fetches weather forecasts, refits the forecast at night, and delivers webhooks, e-mail and notifications.
//
// A scheduler turns cron expressions in each site's time zone into jobs of the durable queue, and workers run them. Jobs are unique by
// (kind, site, key), so any number of replicas may run the scheduler. The effect of a job commits with its completion.
package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"time"

	"go.opentelemetry.io/otel/trace"
	"go.opentelemetry.io/otel/trace/noop"
	"golang.org/x/sync/errgroup"

	"hotday/jobs/mail"
	"hotday/jobs/outside"
	"hotday/jobs/weather"
	"hotday/models"
	"hotday/planner"
	"hotday/planner/cores"
	"hotday/planner/facts"
)

// Config configures Run. Store and Worker are required; everything else has a default.
type Config struct {
	Store  models.Store
	Worker models.Worker
	Now    func() time.Time // time.Now
	Log    *slog.Logger     // slog.Default

	PublishAt string // cron expression in site time for publishing prep sheets: DefaultPublishAt
	RefitAt   string // cron expression in site time for refitting the forecast: DefaultRefitAt
	WatchAt   string // cron expression in site time for checking for shortages: DefaultWatchAt
	ReviewAt  string // cron expression in site time for sending the weekly review: DefaultReviewAt

	Mail *mail.Server // nil: no e-mail

	// Backup backs the database up when BackupAt (DefaultBackupAt), a cron expression in the machine's time, fires; nil: no backups.
	Backup   func(ctx context.Context) error
	BackupAt string

	// Keep is for how many days finished records are kept; whatever it does not name, by default. TidyAt is when the others are removed, a
	// cron expression in the machine's time: DefaultTidyAt.
	Keep   models.Keep
	TidyAt string

	OutsideHosts    []string // hosts that webhooks, weather documents and push services may be on, see models.AllowedHost; none: any
	PrivateWebhooks bool     // allow webhooks to this machine and private networks, and over plain HTTP; and weather from there

	// Weather is who fetches weather forecasts, and from where; its HTTP clients and clock are set here.
	Weather weather.Client

	// CatchUp is how far back the scheduler looks for missed runs after a start or a sleep: DefaultCatchUp.
	CatchUp time.Duration

	// Wait waits until at or until ctx ends; tests replace it.
	Wait func(ctx context.Context, at time.Time) error

	Cores *cores.Cores // that computations share with requests; nil: as many as the machine has, unshared

	Gather  func(ctx context.Context, s models.Store, q facts.GatherQuery) (models.PlanRequest, error)
	Compute func(ctx context.Context, r models.PlanRequest, o planner.Options) (models.Plan, error)

	// Measures hears of attempts and plans; nil: nobody. Traces makes the spans of both; nil: none.
	Measures Measures
	Traces   trace.TracerProvider

	tracer                      trace.Tracer
	hooks                       *http.Client
	replayTimeout               time.Duration
	orderedTime, backgroundTime time.Duration // of a plan
}

// Defaults of a Config.
const (
	DefaultPublishAt = "0 18 * * *"
	DefaultRefitAt   = "30 3 * * *"
	DefaultWatchAt   = "*/10 * * * *"
	DefaultReviewAt  = "0 7 * * 1"
	DefaultBackupAt  = "30 2 * * *"
	DefaultTidyAt    = "0 4 * * *"
	DefaultCatchUp   = 24 * time.Hour // anything older is for a day that is over
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
	if c.BackupAt == "" {
		c.BackupAt = DefaultBackupAt
	}
	if c.TidyAt == "" {
		c.TidyAt = DefaultTidyAt
	}
	if c.ReviewAt == "" {
		c.ReviewAt = DefaultReviewAt
	}
	if c.CatchUp <= 0 {
		c.CatchUp = DefaultCatchUp
	}
	if c.Wait == nil {
		c.Wait = wait
	}
	c.hooks = outside.Client(c.PrivateWebhooks, deliveryTimeout)
	c.Weather.Now, c.Weather.PlainHTTP, c.Weather.OutsideHosts = c.Now, c.PrivateWebhooks, c.OutsideHosts
	c.Weather.Public, c.Weather.Private = weather.HTTPClient(c.PrivateWebhooks), weather.HTTPClient(true)
	c.replayTimeout, c.orderedTime, c.backgroundTime = replayTimeout, orderedTime, backgroundTime
	if c.Cores == nil {
		c.Cores = cores.New(cores.Machine())
	}
	if c.Gather == nil {
		c.Gather = facts.Gather
	}
	if c.Compute == nil {
		c.Compute = planner.ComputeWith
	}
	if c.Measures == nil {
		c.Measures = unmeasured{}
	}
	if c.Traces == nil {
		c.Traces = noop.NewTracerProvider()
	}
	c.tracer = c.Traces.Tracer("hotday/jobs")
	return c
}

// Run runs the scheduler and the workers until ctx ends, then finishes or releases jobs in progress and returns nil. An invalid cron
// expression is an error.
func Run(ctx context.Context, c Config) error {
	c = c.withDefaults()
	if err := c.checkExpressions(); err != nil {
		return err
	}
	g, both := errgroup.WithContext(ctx)
	g.Go(func() error { return c.Worker.Run(both, c.work()) })
	g.Go(func() error { return c.runSchedules(both) })
	g.Go(func() error { return c.runStates(both) })
	err := g.Wait()
	if ctx.Err() != nil && errors.Is(err, ctx.Err()) {
		return nil
	}
	return err
}

// work maps kinds of job to their implementation.
func (c Config) work() map[string]models.Work {
	all := map[string]models.Work{
		models.JobPublish: c.publish,
		models.JobWatch:   c.watch,
		models.JobReplan:  c.replan,
		models.JobPlan:    c.orderedPlan,
		models.JobRefit:   c.refit,
		models.JobReplay:  c.replay,
		models.JobDeliver: c.deliver,
		models.JobMail:    c.sendMail,
		models.JobPush:    c.sendPush,
		models.JobReview:  c.weeklyReview,
		models.JobWeather: c.fetchWeather,
		models.JobBackup:  c.backup,
		models.JobTidy:    c.tidy,
	}
	for kind, work := range all {
		all[kind] = c.measured(kind, work)
	}
	return all
}

// wait is Config.Wait with the real clock.
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

// hopeless handles errors that no retry can fix, such as a site without demand or with an invalid set-up, or a plan that was too late
// mostTimedOut times: it completes the job with an event that reports the problem. Other errors are returned, so that the job is retried.
func (c Config) hopeless(ctx context.Context, j models.Job, doing string, err error) (func(models.Store) error, error) {
	var e *models.Error
	switch {
	case errors.Is(err, errTooLong) && j.TimedOut+1 >= mostTimedOut:
		e = &models.Error{Code: models.CodeInternal, Message: errTooLong.Error()}
	case !errors.As(err, &e) || e.Code == models.CodeStorage:
		return nil, fmt.Errorf("%s: %w", doing, err)
	}
	c.Log.Warn("job failed and will not be retried: the data must be corrected first", "job", j.Kind, "site", j.Site, "key", j.Key, "problem", e.Error())
	if e.Code == models.CodeNotFound {
		return nil, nil
	}
	at := c.Now()
	return func(tx models.Store) error {
		return addEvent(ctx, tx, j.Site, "plan", at, map[string]any{"problem": doing + ": " + e.Error()})
	}, nil
}
