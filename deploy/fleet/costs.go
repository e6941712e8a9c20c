package main

import (
	"context"
	"fmt"
	"io"
	"time"

	"hotday/jobs"
	"hotday/models"
	"hotday/models/store"
	"hotday/planner/cores"
)

// costs are what a shop's night costs.
type costs struct {
	rows, documents, learn, plan, write time.Duration // of processor time
	writtenLearn, writtenPlan           int64         // bytes to the disk
	state                               int           // bytes of the forecast's state
	whole, quiet                        time.Duration // of a check for shortages, on average
}

// worker hands out the jobs' work instead of running it.
type worker struct{ work chan map[string]models.Work }

// Run implements models.Worker.
func (w worker) Run(ctx context.Context, work map[string]models.Work) error {
	w.work <- work
	<-ctx.Done()
	return nil
}

// measureCosts lets some shops pass another night one by one, with nothing else going on, and prints where the processor time goes.
func measureCosts(ctx context.Context, o options, st *store.Store, clock *clock, f *fleet, w io.Writer) error {
	if o.costs == 0 {
		return nil
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var all costs
	spied := &spy{Store: st.ForJobs(), costs: &all}
	hands := worker{make(chan map[string]models.Work, 1)}
	ended := make(chan error, 1)
	go func() { ended <- jobs.Run(ctx, config(spied, hands, clock, cores.New(cores.Machine()))) }()
	var work map[string]models.Work
	select {
	case work = <-hands.work:
	case err := <-ended:
		return err
	}
	shops := f.tonight(o.night)
	shops = shops[:min(o.costs, len(shops))]
	today, err := dayOf(shops, firstNight.AddDate(0, 0, 2))
	if err != nil {
		return err
	}
	next := map[string]models.Date{} // the day whose sheet a shop has published
	for _, d := range today {
		if d.job.Kind == models.JobPublish {
			next[d.job.Site] = models.Date(d.job.Key)
		}
		clock.set(d.at)
		read := all.rows + all.documents
		used, wrote := processTime(), diskBytes()
		effect, err := work[d.job.Kind](ctx, d.job)
		if err != nil {
			return fmt.Errorf("%s of %s: %w", d.job.Kind, d.job.Site, err)
		}
		took := processTime() - used - (all.rows + all.documents - read)
		used = processTime()
		if effect != nil {
			if err := st.Within(ctx, effect); err != nil {
				return err
			}
		}
		all.write += processTime() - used
		if d.job.Kind == models.JobRefit {
			all.learn, all.writtenLearn = all.learn+took, all.writtenLearn+diskBytes()-wrote
		} else {
			all.plan, all.writtenPlan = all.plan+took, all.writtenPlan+diskBytes()-wrote
		}
	}
	for _, x := range shops {
		state, err := st.ForecastState(ctx, x.code)
		if err != nil {
			return err
		}
		all.state += len(state.Learnt) + len(state.Past)
	}
	if err := measureChecks(ctx, o, st, clock, work[models.JobWatch], shops, next, &all); err != nil {
		return err
	}
	n := float64(len(shops))
	ms := func(d time.Duration) float64 { return d.Seconds() * 1e3 / n }
	fmt.Fprintf(w, "a shop's night one by one, %d shops, in ms of processor time:\n", len(shops))
	fmt.Fprintf(w, "  | read counts, weather | read documents | learn | plan | write | together |\n  | %.0f | %.0f | %.0f | %.0f | %.0f | %.0f |\n", ms(all.rows), ms(all.documents), ms(all.learn), ms(all.plan), ms(all.write),
		ms(all.rows+all.documents+all.learn+all.plan+all.write))
	fmt.Fprintf(w, "  written by this process: %.0f kB by learning, of which the state is %.0f kB, and %.0f kB by publishing\n", float64(all.writtenLearn)/1e3/n, float64(all.state)/1e3/n, float64(all.writtenPlan)/1e3/n)
	fmt.Fprintf(w, "  a check for shortages: %.0f ms; with nothing new %.2f ms\n", all.whole.Seconds()*1e3, all.quiet.Seconds()*1e3)
	return nil
}

// measureChecks measures a check that plans and those after it with nothing new.
func measureChecks(ctx context.Context, o options, st *store.Store, clock *clock, watch models.Work, shops []shop, next map[string]models.Date, all *costs) error {
	check := func(site string) error {
		effect, err := watch(ctx, models.Job{Kind: models.JobWatch, Site: site})
		if err != nil || effect == nil {
			return err
		}
		return st.Within(ctx, effect)
	}
	var whole, quiet time.Duration
	checks := 0
	for _, x := range shops {
		zone, err := time.LoadLocation(x.zone)
		if err != nil {
			return err
		}
		clock.set(next[x.code].At(6*60+41, zone)) // before the shop opens
		used := processTime()
		if err := check(x.code); err != nil {
			return err
		}
		whole += processTime() - used
		_, seen, err := st.WatchState(ctx, x.code)
		if err != nil {
			return err
		}
		if !seen.AgainAt.After(clock.Now().Add(time.Second)) {
			continue
		}
		clock.set(clock.Now().Add(time.Second))
		used = processTime()
		for range o.quiet {
			if err := check(x.code); err != nil {
				return err
			}
		}
		quiet, checks = quiet+processTime()-used, checks+o.quiet
	}
	all.whole = whole / time.Duration(len(shops))
	all.quiet = quiet / time.Duration(max(1, checks))
	return nil
}
