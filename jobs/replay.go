package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"hotday/models"

	"hotday/planner/facts"
	"hotday/planner/replay"
)

// replayTimeout bounds a replay from when it has a core.
const replayTimeout = 200 * time.Second

// reviewedLevels are the service levels of the plan's curve on Review, %: fewer than the command's, to end in time.
var reviewedLevels = []float64{50, 80, 95}

// minReplayDays is the number of open days from which an incomplete replay is stored.
const minReplayDays = 3

// replay replays past days. On a timeout the days completed so far are stored; on a request to stop the previous replay is kept.
func (c Config) replay(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	var order models.ReplayOrder
	if err := json.Unmarshal(j.Args, &order); err != nil {
		return nil, fmt.Errorf("read the replay order: %w", err)
	}
	working, r := c.report(ctx, j, "Replaying past days")
	result, err := c.runReplay(working, j.Site, order, r.share)
	timedOut := errors.Is(err, context.DeadlineExceeded) && ctx.Err() == nil
	if timedOut || r.stopped() {
		c.Log.Warn("replay incomplete", "site", j.Site, "from", order.From, "days", order.Days, "to", result.To, "stopped", r.stopped())
	}
	if r.stopped() || timedOut && result.Open < minReplayDays {
		return func(tx models.Store) error { return r.finish(ctx, tx) }, nil
	}
	if timedOut {
		err = nil
	}
	if err != nil {
		r.abort()
		return c.hopeless(ctx, j, "replay past days", err)
	}
	return func(tx models.Store) error {
		if err := tx.PutPastReplay(ctx, j.Site, result); err != nil {
			return err
		}
		r.reported = true // send the final event even after a quick replay, so that pages reload
		return r.finish(ctx, tx)
	}, nil
}

// runReplay returns the days completed so far along with any error.
func (c Config) runReplay(ctx context.Context, site string, order models.ReplayOrder, step func(float64)) (models.Replay, error) {
	at := c.Now()
	setup, days, err := facts.GatherHistory(ctx, c.Store, site, at)
	if err != nil {
		return models.Replay{}, err
	}
	season := replay.FromHistory(setup, days)
	if err := season.Validate(); err != nil {
		return models.Replay{}, err
	}
	release, err := c.Cores.InBackground(ctx)
	if err != nil {
		return models.Replay{}, err
	}
	defer release()
	limited, cancel := context.WithTimeout(ctx, c.replayTimeout)
	defer cancel()
	run, err := replay.Run(limited, &season, replay.Options{Parallel: c.Cores.Background(), From: order.From, Days: order.Days, Cushions: replay.Cushions, ServiceLevels: reviewedLevels,
		Changes:  replay.ChangesToTry(&season.Setup),
		Progress: func(done, of int, _ models.Date) { step(float64(done) / float64(of)) }})
	if err != nil && len(run.Days) == 0 {
		return models.Replay{}, err
	}
	summary, summaryErr := replay.Summary(&run)
	summary.MadeAt = at
	return summary, errors.Join(err, summaryErr)
}
