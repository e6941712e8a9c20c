package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/jobs"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/cores"
)

// due is a job and its moment.
type due struct {
	at  time.Time
	job models.Job
}

// Local minutes of the day at which shops learn and publish, as by default.
const (
	learnsAt    = 3*60 + 30
	publishesAt = 18 * 60
)

// dayOf are the jobs of one day of UTC, in order: each shop learns in its night and publishes in its evening.
func dayOf(shops []shop, midnight time.Time) (out []due, err error) {
	for _, x := range shops {
		zone, err := time.LoadLocation(x.zone)
		if err != nil {
			return nil, err
		}
		for _, d := range []models.Date{models.DateOf(midnight, zone), models.DateOf(midnight, zone).AddDays(1)} {
			for _, j := range []due{
				{d.At(learnsAt, zone), models.Job{Kind: models.JobRefit, Site: x.code, Key: string(d)}},
				{d.At(publishesAt, zone), models.Job{Kind: models.JobPublish, Site: x.code, Key: string(d.AddDays(1))}},
			} {
				if !j.at.Before(midnight) && j.at.Before(midnight.AddDate(0, 0, 1)) {
					out = append(out, j)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b due) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.job.Site, b.job.Site)) })
	return out, nil
}

// passNight lets two days pass: on the first one shops learn all that they have, on the second what the day before added, as they go on to.
func passNight(ctx context.Context, o options, st *store.Store, clock *clock, f *fleet, w io.Writer) error {
	shops := f.tonight(o.night)
	for n, name := range []string{"the first night", "a usual night"} {
		today, err := dayOf(shops, firstNight.AddDate(0, 0, n))
		if err != nil {
			return err
		}
		if err := passDay(ctx, st, clock, name, shops, today, w); err != nil {
			return err
		}
	}
	return nil
}

// config is that of the service's jobs.
func config(st models.Store, worker models.Worker, clock *clock, shared *cores.Cores) jobs.Config {
	return jobs.Config{Store: st, Worker: worker, Cores: shared, Now: clock.Now, Wait: waitForEnd, Log: slog.New(slog.DiscardHandler), CatchUp: time.Minute,
		PublishAt: never, RefitAt: never, WatchAt: never, ReviewAt: never, BackupAt: never, TidyAt: never}
}

// passDay runs jobs on the queue with the service's workers, and asks the service meanwhile.
func passDay(ctx context.Context, st *store.Store, clock *clock, name string, shops []shop, today []due, w io.Writer) error {
	shared := cores.New(cores.Machine())
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	began, used, written := time.Now(), processTime(), diskBytes()
	var asked *probe
	g, working := errgroup.WithContext(ctx)
	g.Go(func() error { return jobs.Run(working, config(st.ForJobs(), st, clock, shared)) })
	g.Go(func() (err error) {
		asked, err = ask(working, st, clock, shared, shops)
		return err
	})
	g.Go(func() error {
		defer stop()
		return feed(working, st, clock, today)
	})
	if err := g.Wait(); err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	took, cpu := time.Since(began), processTime()-used
	n := time.Duration(len(shops))
	fmt.Fprintf(w, "%s of %d shops in %s with %d cores: %.2f s of processor time and %.0f kB written by this process a shop, requests included; 5,000 shops would take %.1f h, or %.1f h with the cores to themselves\n", name, len(shops), took.Round(time.Second), cores.Machine(),
		(cpu / n).Seconds(), float64(diskBytes()-written)/1e3/float64(n), (took * 5000 / n).Hours(), (cpu*5000/n).Hours()/float64(cores.Machine()))
	fmt.Fprintf(w, "  meanwhile: %s\n", asked)
	return published(context.WithoutCancel(ctx), st, today, w)
}

// published says how many of the sheets that were due are there.
func published(ctx context.Context, st *store.Store, today []due, w io.Writer) error {
	sheets, wanted := 0, 0
	for _, d := range today {
		if d.job.Kind != models.JobPublish {
			continue
		}
		wanted++
		if _, err := st.Sheet(ctx, d.job.Site, models.Date(d.job.Key)); err == nil {
			sheets++
		} else if models.CodeOf(err) != models.CodeNotFound {
			return err
		}
	}
	fmt.Fprintf(w, "  %d of %d sheets are published\n", sheets, wanted)
	return nil
}

// feed queues the jobs in order, each when there is a worker for it, and returns when all are done.
func feed(ctx context.Context, st *store.Store, clock *clock, today []due) error {
	for _, d := range today {
		if err := untilQueue(ctx, st, func(q models.QueueState) bool { return q.Due+q.Running <= cores.Machine() }); err != nil {
			return err
		}
		clock.set(d.at)
		if _, err := st.Enqueue(ctx, d.job); err != nil {
			return err
		}
	}
	return untilQueue(ctx, st, func(q models.QueueState) bool { return q.Due+q.Running == 0 })
}

// untilQueue waits until the queue is as wanted.
func untilQueue(ctx context.Context, st *store.Store, wanted func(models.QueueState) bool) error {
	for {
		q, err := st.QueueState(ctx)
		if err != nil || wanted(q) {
			return err
		}
		if err := pause(ctx, 20*time.Millisecond); err != nil {
			return err
		}
	}
}
