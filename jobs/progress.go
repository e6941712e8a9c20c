package jobs

import (
	"context"
	"errors"
	"time"

	"hotday/models"
)

// errStopped is the cancellation cause of a job that was asked to stop.
var errStopped = errors.New("stop requested")

const (
	progressDelay    = 500 * time.Millisecond // before the first report, to leave out quick jobs
	progressInterval = 300 * time.Millisecond // between reports
	eventStep        = 0.1                    // progress between live events to the screens
)

// reporter reports a long-running job's progress and checks for requests to stop.
type reporter struct {
	c         Config
	ctx       context.Context
	site      string
	stop      context.CancelCauseFunc
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

// step reports the fraction of the work done. A failure to report is only logged.
func (r *reporter) step(share float64) {
	at := r.c.Now()
	if at.Sub(r.now.StartedAt) < progressDelay || (r.reported && at.Sub(r.now.At) < progressInterval) || r.ctx.Err() != nil {
		return
	}
	r.now.At, r.now.Share = at, max(r.now.Share, min(share, 1))
	withEvent := !r.reported || r.now.Share >= r.lastEvent+eventStep
	stop := false
	err := r.c.Store.Within(r.ctx, func(tx models.Store) (err error) {
		if stop, err = tx.PutProgress(r.ctx, r.site, r.now); err != nil || !withEvent {
			return err
		}
		return r.addEvent(r.ctx, tx, false)
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

func (r *reporter) addEvent(ctx context.Context, tx models.Store, over bool) error {
	return addEvent(ctx, tx, r.site, "work", r.now.At, map[string]any{"kind": r.now.Kind, "share": r.now.Share, "say": r.now.Say, "over": over})
}

// stopped reports whether the job was asked to stop.
func (r *reporter) stopped() bool { return errors.Is(context.Cause(r.ctx), errStopped) }

// finish removes the stored progress in a transaction and reports the end of the job.
func (r *reporter) finish(ctx context.Context, tx models.Store) error {
	r.stop(nil)
	if !r.reported {
		return nil
	}
	r.now.At = r.c.Now()
	if err := tx.DropProgress(ctx, r.site, r.now.Kind); err != nil {
		return err
	}
	return r.addEvent(ctx, tx, true)
}

// abort is finish for a job that failed, including during shutdown.
func (r *reporter) abort() {
	ctx := context.WithoutCancel(r.ctx)
	if err := r.c.Store.Within(ctx, func(tx models.Store) error { return r.finish(ctx, tx) }); err != nil {
		r.c.Log.Warn("progress of a failed job not removed", "job", r.now.Kind, "site", r.site, "error", err)
	}
}
