package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"golang.org/x/sync/errgroup"

	"hotday/deploy/demo"
	"hotday/deploy/loopback"
	"hotday/jobs"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/cores"
)

// stormWaits is how many ordered plans of the stormy shop wait at any time.
const stormWaits = 40

// measureStorm lets some shops publish one after the other, half of them on a calm evening and half while another shop orders plans
// without end and posts counts, and prints how long their sheets took.
func measureStorm(ctx context.Context, o options, st *store.Store, clock *clock, f *fleet, w io.Writer) error {
	if o.storm == 0 {
		return nil
	}
	shops := f.tonight(o.night)
	if len(shops) < 2*o.storm+1 {
		return fmt.Errorf("-storm %d needs a -night of at least %d shops", o.storm, 2*o.storm+1)
	}
	today, err := dayOf(shops[1:2*o.storm+1], firstNight.AddDate(0, 0, stormDay))
	if err != nil {
		return err
	}
	var sheets []due
	for _, d := range today {
		if d.job.Kind == models.JobPublish {
			sheets = append(sheets, d)
		}
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	g, working := errgroup.WithContext(ctx)
	g.Go(func() error { return jobs.Run(working, config(st.ForJobs(), st, clock, cores.New(cores.Machine()))) })
	ordered := 0
	g.Go(func() error {
		defer stop()
		calm, err := publishEach(working, st, clock, sheets[:o.storm])
		if err != nil {
			return err
		}
		stormy, end := context.WithCancel(working)
		defer end()
		over := make(chan error, 1)
		go func() { over <- storm(stormy, st, clock, shops[0].code, &ordered) }()
		if err := untilQueue(working, st, func(q models.QueueState) bool { return q.Due >= stormWaits/2 }); err != nil {
			return err
		}
		while, err := publishEach(working, st, clock, sheets[o.storm:])
		end()
		if failed := <-over; !errors.Is(failed, context.Canceled) {
			err = errors.Join(err, failed)
		}
		if err != nil {
			return err
		}
		half, _, all := loopback.Spread(calm)
		halfStormy, _, allStormy := loopback.Spread(while)
		_, err = fmt.Fprintf(w, "a sheet of %d shops one after the other: half within %.1f s, all within %.1f s; of %d more while one shop had ordered %d plans: half within %.1f s, all within %.1f s\n",
			len(calm), half.Seconds(), all.Seconds(), len(while), ordered, halfStormy.Seconds(), allStormy.Seconds())
		return err
	})
	if err := g.Wait(); err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	return nil
}

// stormDay is the day of the storm, after the two nights and the one whose costs are measured.
const stormDay = 3

// publishEach queues one sheet after the other and returns how long each took to be there.
func publishEach(ctx context.Context, st *store.Store, clock *clock, sheets []due) (took []time.Duration, err error) {
	for _, d := range sheets {
		clock.set(d.at)
		began := time.Now()
		if _, err := st.Enqueue(ctx, d.job); err != nil {
			return nil, err
		}
		for {
			_, err := st.Sheet(ctx, d.job.Site, models.Date(d.job.Key))
			if err == nil {
				break
			}
			if models.CodeOf(err) != models.CodeNotFound {
				return nil, err
			}
			if err := pause(ctx, 20*time.Millisecond); err != nil {
				return nil, err
			}
		}
		took = append(took, time.Since(began))
	}
	return took, nil
}

// storm keeps plans of a shop ordered, asks for a replan with each and posts counts, until ctx ends.
func storm(ctx context.Context, st *store.Store, clock *clock, site string, ordered *int) error {
	for {
		q, err := st.QueueState(ctx)
		if err != nil {
			return err
		}
		for range stormWaits - q.Due {
			now := clock.Now()
			*ordered++
			args, err := json.Marshal(models.PlanOrder{From: models.DateOf(now, time.UTC).AddDays(1), Days: 1 + *ordered%3, OrderedAt: now})
			if err != nil {
				return err
			}
			for _, j := range []models.Job{{Kind: models.JobPlan, Site: site, Key: fmt.Sprint(*ordered), Args: args}, models.ReplanJob(site, now)} {
				if _, err := st.Enqueue(ctx, j); err != nil {
					return err
				}
			}
			start := now.Truncate(15 * time.Minute).Add(-time.Duration(*ordered%40+1) * 15 * time.Minute)
			count := models.SalesCount{Item: demo.Mappings()[0].Item, WindowStart: start, WindowEnd: start.Add(15 * time.Minute), Count: float64(*ordered % 9)}
			if _, err := st.PutCounts(ctx, site, models.SalesPost{Source: demo.Source, Counts: []models.SalesCount{count}}, now, "", ""); err != nil {
				return err
			}
		}
		if err := pause(ctx, 20*time.Millisecond); err != nil {
			return err
		}
	}
}

func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}
