package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/replay"
)

// replayTime bounds a replay: a job may not take longer than the queue lets it.
const replayTime = 100 * time.Second

// replay lives days of the past again. What takes too long, or was asked to stop, leaves the replay before in its place.
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
	if r.stopped() || tooLong {
		c.Log.Warn("days were not lived again to the end", "site", j.Site, "from", order.From, "days", order.Days, "stopped", r.stopped())
		return func(tx models.Store) error { return r.over(ctx, tx) }, nil
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

func (c Config) relive(ctx context.Context, site string, order models.ReplayOrder, step func(float64)) (models.Replay, error) {
	at := c.Now()
	setup, days, err := planner.GatherHistory(ctx, c.Store, site, at)
	if err != nil {
		return models.Replay{}, err
	}
	season := replay.FromHistory(setup, days)
	if err := season.Validate(); err != nil {
		return models.Replay{}, err
	}
	result, err := replay.Run(ctx, &season, replay.Options{From: order.From, Days: order.Days,
		Progress: func(done, of int, _ models.Date) { step(float64(done) / float64(of)) }})
	if err != nil {
		return models.Replay{}, err
	}
	kept, err := replay.Summary(&result)
	kept.MadeAt = at
	return kept, err
}
