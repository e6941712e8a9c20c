package jobs

import (
	"context"

	"hotday/models"
	"hotday/planner"
)

// refit lets the forecast of a site learn from the day before.
func (c Config) refit(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	began := c.Now()
	state, err := planner.Refit(ctx, c.Store, j.Site, began)
	if err != nil {
		return c.hopeless(j, "let the forecast learn from the days before "+j.Key, err)
	}
	c.Log.Info("the forecast has learnt", "site", j.Site, "through", state.Through, "took", c.Now().Sub(began))
	return func(tx models.Store) error { return tx.PutForecastState(ctx, j.Site, state) }, nil
}
