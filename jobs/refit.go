package jobs

import (
	"context"
	"time"

	"hotday/models"

	"hotday/planner/facts"
)

// refit refits a site's forecast with the day before, stores the forecast for the day that begins, and updates the track record. On a
// request to stop it changes nothing until the next night; on shutdown the job is released and retried.
func (c Config) refit(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	started := c.Now()
	working, r := c.report(ctx, j, "Updating the forecast")
	learnt, err := c.learnt(working, j.Site, started, r)
	if r.stopped() {
		c.Log.Info("forecast refit stopped on request", "site", j.Site, "key", j.Key)
		return func(tx models.Store) error { return r.finish(ctx, tx) }, nil
	}
	if err != nil {
		r.abort()
		return c.hopeless(ctx, j, "refit the forecast for "+j.Key, err)
	}
	c.Log.Info("forecast refitted", "site", j.Site, "through", learnt.State.Through, "took", c.Now().Sub(started))
	return func(tx models.Store) error {
		if err := tx.PutForecastState(ctx, j.Site, learnt.State); err != nil {
			return err
		}
		if err := tx.PutDayForecasts(ctx, j.Site, learnt.Forecasts); err != nil {
			return err
		}
		if err := tx.PutTrackRecord(ctx, j.Site, learnt.Record); err != nil {
			return err
		}
		return r.finish(ctx, tx)
	}, nil
}

// learnt is what a site's forecast learns, computed with a core.
func (c Config) learnt(ctx context.Context, site string, now time.Time, r *reporter) (facts.Learnt, error) {
	release, err := c.Cores.InBackground(ctx)
	if err != nil {
		return facts.Learnt{}, err
	}
	defer release()
	return facts.Learn(ctx, c.Store, site, now, r.share)
}
