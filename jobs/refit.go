package jobs

import (
	"context"

	"hotday/models"

	"hotday/planner/facts"
)

// refit lets the forecast of a site learn from the day before, keeps what it says of the day that begins, and judges what was said
// of the days before. Asked to stop, it leaves everything as it was until the next night; when the program shuts down, it is
// handed back and done again.
func (c Config) refit(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	began := c.Now()
	working, r := c.report(ctx, j, "Learning from the days before")
	learnt, err := facts.Learn(working, c.Store, j.Site, began, r.step)
	if r.stopped() {
		c.Log.Info("the forecast was stopped while learning", "site", j.Site, "key", j.Key)
		return func(tx models.Store) error { return r.over(ctx, tx) }, nil
	}
	if err != nil {
		r.givenUp()
		return c.hopeless(j, "let the forecast learn from the days before "+j.Key, err)
	}
	c.Log.Info("the forecast has learnt", "site", j.Site, "through", learnt.State.Through, "took", c.Now().Sub(began))
	return func(tx models.Store) error {
		if err := tx.PutForecastState(ctx, j.Site, learnt.State); err != nil {
			return err
		}
		if err := tx.PutSaidDays(ctx, j.Site, learnt.Said); err != nil {
			return err
		}
		if err := tx.PutTrackRecord(ctx, j.Site, learnt.Record); err != nil {
			return err
		}
		return r.over(ctx, tx)
	}, nil
}
