package facts

import (
	"context"
	"fmt"
	"time"

	"hotday/models"
)

// StockNow returns the expected stock at now, from one consistent state of the store: ice, tank and bean lots as last counted or
// set up, and each beverage's lots with batches, purchases, discards and sales since. The result is a request without days: Ice,
// Water, Coffees and Stock are set. A site without a set-up is CodeNotFound.
func StockNow(ctx context.Context, store models.Store, site string, now time.Time) (models.PlanRequest, error) {
	var r models.PlanRequest
	err := store.Read(ctx, func(st models.Store) error {
		setup, _, err := st.Setup(ctx, site)
		if err != nil {
			return err
		}
		today := setup.Site.ServiceDayOf(now)
		r = models.PlanRequest{Setup: setup, From: today, Days: 1, Now: now, Seed: 1}
		g := &gathering{ctx: ctx, st: st, q: GatherQuery{Site: site, From: today, Days: 1, Now: now, Seed: 1}, r: &r, today: today}
		if err := g.underWay(); err != nil {
			return err
		}
		return g.stock()
	})
	if err != nil {
		return models.PlanRequest{}, fmt.Errorf("read what is in stock at %s: %w", site, err)
	}
	return r, nil
}
