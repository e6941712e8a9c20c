package jobs

import (
	"context"
	"errors"
	"time"

	"hotday/models"
	"hotday/planner/facts"
)

const (
	statesEvery = 2 * time.Second // how often sites that have changed are looked for
	statesMost  = 200             // computed before others are looked for again
)

// runStates keeps the states of sites up to date until ctx ends: those of sites that have changed within seconds, others when time alone
// changes them, as where a sheet becomes overdue.
func (c Config) runStates(ctx context.Context) error {
	for {
		n, err := c.computeStates(ctx)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			c.Log.Error("computing the states of sites failed; they are tried again", "error", err)
		}
		if n == statesMost && err == nil {
			continue
		}
		if err := wait(ctx, time.Now().Add(statesEvery)); err != nil {
			return err
		}
	}
}

// computeStates computes the states of sites that have changed and returns how many there were.
func (c Config) computeStates(ctx context.Context) (n int, err error) {
	list, err := c.Store.StaleStates(ctx, c.Now(), statesMost)
	if err != nil {
		return 0, err
	}
	var failed error
	for _, x := range list {
		r, again, err := facts.SiteState(ctx, c.Store, x.Site, c.Now(), c.publishDue)
		if err == nil {
			err = c.Store.PutSiteState(ctx, x, r, again)
		}
		if ctx.Err() != nil {
			return len(list), ctx.Err()
		}
		if err != nil && models.CodeOf(err) != models.CodeNotFound { // a site may be deleted meanwhile
			failed = errors.Join(failed, err)
		}
	}
	return len(list), failed
}

// publishDue is when the sheet of a service day is due: at the first time to publish after the service day before it.
func (c Config) publishDue(site models.Site, day models.Date) time.Time {
	before := day.AddDays(-1)
	for n := 0; n < 13 && len(site.OpenSpans(before)) == 0; n++ {
		before = before.AddDays(-1)
	}
	start := before.At(0, site.Location())
	s, err := parse(c.PublishAt, site.Timezone)
	if err != nil { // checked at the start
		return start
	}
	return s.Next(start.Add(-time.Second)).Add(publishSpread.of(site.Code))
}
