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

// replayTime bounds a replay: a job may not take longer than the queue lets it.
const replayTime = 100 * time.Second

// leastRelived is how many days a replay that ran out of time must have lived to be kept.
const leastRelived = 3

// replay lives days of the past again. Where that takes too long, the days that were done are kept; asked to stop, it leaves the
// replay before in its place.
func (c Config) replay(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	var order models.ReplayOrder
	if err := json.Unmarshal(j.Args, &order); err != nil {
		return nil, fmt.Errorf("read which days to live again: %w", err)
	}
	working, r := c.report(ctx, j, "Living the past days again")
	limited, cancel := context.WithTimeout(working, replayTime)
	defer cancel()
	kept, err := c.relive(limited, j.Site, order, r.step)
	tooLong := errors.Is(err, context.DeadlineExceeded) && ctx.Err() == nil
	if tooLong || r.stopped() {
		c.Log.Warn("days were not lived again to the end", "site", j.Site, "from", order.From, "days", order.Days, "to", kept.To, "stopped", r.stopped())
	}
	if r.stopped() || tooLong && kept.Open < leastRelived {
		return func(tx models.Store) error { return r.over(ctx, tx) }, nil
	}
	if tooLong {
		err = nil
	}
	if err != nil {
		r.givenUp()
		return c.hopeless(j, "live days of the past again", err)
	}
	return func(tx models.Store) error {
		if err := tx.PutPastReplay(ctx, j.Site, kept); err != nil {
			return err
		}
		r.told = true // also after a short one the pages shall look again
		return r.over(ctx, tx)
	}, nil
}

// relive returns, beside an error, what was done until then.
func (c Config) relive(ctx context.Context, site string, order models.ReplayOrder, step func(float64)) (models.Replay, error) {
	at := c.Now()
	setup, days, err := facts.GatherHistory(ctx, c.Store, site, at)
	if err != nil {
		return models.Replay{}, err
	}
	season := replay.FromHistory(setup, days)
	if err := season.Validate(); err != nil {
		return models.Replay{}, err
	}
	result, err := replay.Run(ctx, &season, replay.Options{From: order.From, Days: order.Days,
		Progress: func(done, of int, _ models.Date) { step(float64(done) / float64(of)) }})
	if err != nil && len(result.Days) == 0 {
		return models.Replay{}, err
	}
	kept, failed := replay.Summary(&result)
	kept.MadeAt = at
	return kept, errors.Join(err, failed)
}
