package jobs

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"hotday/models"
)

// wholeService is the key of the service's own schedules beside those of the sites.
const wholeService = ""

// nightly are the schedules of the whole service: cron expressions in the machine's time and the kinds of their jobs.
func (c Config) nightly() map[string]string {
	kinds := map[string]string{models.JobTidy: c.TidyAt}
	if c.Backup != nil {
		kinds[models.JobBackup] = c.BackupAt
	}
	return kinds
}

// queueNightly enqueues the jobs of the whole service that have become due since the last check.
func (c Config) queueNightly(ctx context.Context, now time.Time, checked checks) error {
	since := c.since(checked[wholeService].at, now)
	for kind, expression := range c.nightly() {
		at, err := parse(expression, "Local")
		if err != nil {
			return err
		}
		fired, ok := lastFired(at, since, now)
		if !ok {
			continue
		}
		if _, err := c.Store.Enqueue(ctx, models.Job{Kind: kind, Key: fired.UTC().Format(time.RFC3339)}); err != nil {
			return fmt.Errorf("enqueue %s: %w", kind, err)
		}
	}
	checked[wholeService] = check{at: now}
	return nil
}

// backup backs the database up; a failure is retried.
func (c Config) backup(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
	if c.Backup == nil {
		return nil, nil // queued before a restart without backups
	}
	return nil, c.Backup(ctx)
}

// tidy removes what is no longer kept, site by site. A site that fails does not keep the others from it; the job is then retried.
func (c Config) tidy(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
	keep, err := c.Keep.WithDefaults()
	if err != nil {
		return nil, err
	}
	now := c.Now()
	sites, err := c.Store.Sites(ctx)
	if err != nil {
		return nil, err
	}
	done, failed := c.Store.TidyService(ctx, keep, now)
	c.logTidied("", done)
	for _, site := range sites {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		done, err := c.Store.TidySite(ctx, site, keep, now)
		c.logTidied(site, done)
		if models.CodeOf(err) != models.CodeNotFound { // deleted in the meantime
			failed = errors.Join(failed, err)
		}
	}
	return nil, failed
}

func (c Config) logTidied(site string, done models.Tidied) {
	attrs := []any{slog.String("site", site)}
	for _, r := range models.KeptRecords {
		if n := done.Removed[r.Name]; n > 0 {
			attrs = append(attrs, slog.Int64(r.Name, n))
		}
	}
	if done.Compressed > 0 {
		attrs = append(attrs, slog.Int64("compressed", done.Compressed))
	}
	if len(attrs) > 1 {
		c.Log.Info("old records removed", attrs...)
	}
}
