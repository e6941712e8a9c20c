package jobs

import (
	"context"
	"errors"
	"time"

	"hotday/models"
)

// errStopped is why the context of a job ended that somebody asked to stop.
var errStopped = errors.New("somebody asked for it to stop")

// What a job says of itself: nothing before it has taken a moment, then at most so often, and to the screens at each such share.
const (
	quietFor   = 500 * time.Millisecond
	tellEvery  = 300 * time.Millisecond
	tellShares = 0.1
)

// reporter tells how far a job is that takes a while, and learns whether it is to stop.
type reporter struct {
	c      Config
	ctx    context.Context
	site   string
	stop   context.CancelCauseFunc
	now    models.Progress
	told   bool // there is something to take back
	screen float64
}

// report makes the reporter of a job and the context to do it in, which ends when somebody asks for it to stop.
func (c Config) report(ctx context.Context, j models.Job, say string) (context.Context, *reporter) {
	at := c.Now()
	ctx, stop := context.WithCancelCause(ctx)
	return ctx, &reporter{c: c, ctx: ctx, site: j.Site, stop: stop, now: models.Progress{Kind: j.Kind, Key: j.Key, Say: say, StartedAt: at, At: at}}
}

// step is told the share of the work that is done. What cannot be told is only logged: the work goes on.
func (r *reporter) step(share float64) {
	at := r.c.Now()
	if at.Sub(r.now.StartedAt) < quietFor || (r.told && at.Sub(r.now.At) < tellEvery) || r.ctx.Err() != nil {
		return
	}
	r.now.At, r.now.Share = at, max(r.now.Share, min(share, 1))
	screen := !r.told || r.now.Share >= r.screen+tellShares
	asked := false
	err := r.c.Store.Within(r.ctx, func(tx models.Store) (err error) {
		if asked, err = tx.PutProgress(r.ctx, r.site, r.now); err != nil || !screen {
			return err
		}
		return r.tell(r.ctx, tx, false)
	})
	if err != nil {
		if r.ctx.Err() == nil {
			r.c.Log.Warn("how far a job is could not be told", "job", r.now.Kind, "site", r.site, "error", err)
		}
		return
	}
	r.told = true
	if screen {
		r.screen = r.now.Share
	}
	if asked {
		r.stop(errStopped)
	}
}

func (r *reporter) tell(ctx context.Context, tx models.Store, over bool) error {
	return addEvent(ctx, tx, r.site, "work", r.now.At, map[string]any{"kind": r.now.Kind, "share": r.now.Share, "say": r.now.Say, "over": over})
}

// stopped reports whether somebody asked for the job to stop.
func (r *reporter) stopped() bool { return errors.Is(context.Cause(r.ctx), errStopped) }

// over takes back in a transaction what was told of the job.
func (r *reporter) over(ctx context.Context, tx models.Store) error {
	r.stop(nil)
	if !r.told {
		return nil
	}
	r.now.At = r.c.Now()
	if err := tx.DropProgress(ctx, r.site, r.now.Kind); err != nil {
		return err
	}
	return r.tell(ctx, tx, true)
}

// givenUp takes it back for a job that did not come to its end, also when the program is shutting down.
func (r *reporter) givenUp() {
	ctx := context.WithoutCancel(r.ctx)
	if err := r.c.Store.Within(ctx, func(tx models.Store) error { return r.over(ctx, tx) }); err != nil {
		r.c.Log.Warn("that a job was given up could not be told", "job", r.now.Kind, "site", r.site, "error", err)
	}
}
