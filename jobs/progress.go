package jobs

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"
	"time"

	"hotday/models"
)

// errStopped is the cancellation cause of a job that was asked to stop.
var errStopped = errors.New("stop requested")

const (
	progressDelay    = 500 * time.Millisecond // before the first report, to leave out quick jobs
	progressInterval = 300 * time.Millisecond // between reports
	eventStep        = 0.1                    // progress between live events to the screens
	beatInterval     = 500 * time.Millisecond // between looks for a request to stop while a job says nothing
)

// reporter reports a long-running job's progress and checks for requests to stop.
type reporter struct {
	c    Config
	ctx  context.Context
	site string
	stop context.CancelCauseFunc

	mu        sync.Mutex // held while reporting
	now       models.Progress
	reported  bool    // progress is stored and must be removed at the end
	lastEvent float64 // progress at the last live event
}

// report returns a job's reporter and a context that is cancelled on a request to stop.
func (c Config) report(ctx context.Context, j models.Job, say string) (context.Context, *reporter) {
	at := c.Now()
	ctx, stop := context.WithCancelCause(ctx)
	return ctx, &reporter{c: c, ctx: ctx, site: j.Site, stop: stop, now: models.Progress{Kind: j.Kind, Key: j.Key, Say: say, StartedAt: at, At: at}}
}

// share reports the fraction of the work done, of a job without steps. A failure to report is only logged.
func (r *reporter) share(share float64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	at := r.c.Now()
	if at.Sub(r.now.StartedAt) < progressDelay || (r.reported && at.Sub(r.now.At) < progressInterval) {
		return
	}
	r.now.At, r.now.Share = at, max(r.now.Share, min(share, 1))
	r.put(!r.reported || r.now.Share >= r.lastEvent+eventStep)
}

// step reports that a job with steps has come to one of them, and the fraction of the work done.
func (r *reporter) step(step string, share float64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	isNew := step != r.now.Step
	r.now.At, r.now.Step, r.now.Say, r.now.Share = r.c.Now(), step, stepWords[step], max(r.now.Share, math.Round(1000*min(share, 1))/1000)
	if isNew || r.now.Share >= r.lastEvent+eventStep {
		r.put(true)
	}
}

// beat looks for a request to stop, and shows that the job is alive, between its own reports; rest ends that.
func (r *reporter) beat() (rest func()) {
	done, rested := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(rested)
		tick := time.NewTicker(beatInterval)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-r.ctx.Done():
				return
			case <-tick.C:
				r.mu.Lock()
				r.now.At = r.c.Now()
				r.put(false)
				r.mu.Unlock()
			}
		}
	}()
	return func() {
		close(done)
		<-rested
	}
}

// put stores the progress, with a live event if the screens are to know.
func (r *reporter) put(withEvent bool) {
	if r.ctx.Err() != nil {
		return
	}
	stop := false
	err := r.c.Store.Within(r.ctx, func(tx models.Store) (err error) {
		if stop, err = tx.PutProgress(r.ctx, r.site, r.now); err != nil || stop || !withEvent {
			return err
		}
		return r.addEvent(r.ctx, tx, false, 0)
	})
	if err != nil {
		if r.ctx.Err() == nil {
			r.c.Log.Warn("job progress not stored", "job", r.now.Kind, "site", r.site, "error", err)
		}
		return
	}
	r.reported = true
	if withEvent {
		r.lastEvent = r.now.Share
	}
	if stop {
		r.stop(errStopped)
	}
}

// addEvent adds the live event of the progress.
func (r *reporter) addEvent(ctx context.Context, tx models.Store, over bool, revision int) error {
	return addEvent(ctx, tx, r.site, "work", r.now.At, r.now.Event(over, revision))
}

// stopped reports whether the job was asked to stop.
func (r *reporter) stopped() bool { return errors.Is(context.Cause(r.ctx), errStopped) }

// finish removes the stored progress in a transaction and reports the end of the job.
func (r *reporter) finish(ctx context.Context, tx models.Store) error {
	return r.finishWith(ctx, tx, 0)
}

// finishWith is finish for a job that made a plan.
func (r *reporter) finishWith(ctx context.Context, tx models.Store, revision int) error {
	r.stop(nil)
	if !r.reported {
		return nil
	}
	if err := tx.DropProgress(ctx, r.site, r.now.Kind, r.now.Key); err != nil {
		return err
	}
	return r.addEnd(ctx, tx, revision)
}

// addEnd tells the screens that the job has ended, unless a later one of its kind goes on.
func (r *reporter) addEnd(ctx context.Context, tx models.Store, revision int) error {
	list, err := tx.Progress(ctx, r.site)
	if err != nil || slices.ContainsFunc(list, func(p models.Progress) bool { return p.Kind == r.now.Kind && p.Key != r.now.Key }) {
		return err
	}
	r.now.At = r.c.Now()
	return r.addEvent(ctx, tx, true, revision)
}

// fail keeps in a transaction why the job failed, until the next of its kind, and reports its end.
func (r *reporter) fail(ctx context.Context, tx models.Store, problem string) error {
	r.stop(nil)
	r.now.At, r.now.Problem = r.c.Now(), problem
	if _, err := tx.PutProgress(ctx, r.site, r.now); err != nil {
		return err
	}
	return r.addEnd(ctx, tx, 0)
}

// abort is finish for a job that failed, including during shutdown.
func (r *reporter) abort() {
	ctx := context.WithoutCancel(r.ctx)
	if err := r.c.Store.Within(ctx, func(tx models.Store) error { return r.finish(ctx, tx) }); err != nil {
		r.c.Log.Warn("progress of a failed job not removed", "job", r.now.Kind, "site", r.site, "error", err)
	}
}
