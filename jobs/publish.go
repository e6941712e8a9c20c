package jobs

import (
	"context"

	"hotday/models"
	"hotday/planner"
)

// publish makes the prep sheet of the next service day, and of what is left of today with what must happen tonight for it.
// Where the sheets that stand already say all of it, nothing is stored.
func (c Config) publish(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	now, day := c.Now(), models.Date(j.Key)
	setup, _, err := c.Store.Setup(ctx, j.Site)
	if err != nil {
		return c.hopeless(j, "publish the prep sheet of "+j.Key, err)
	}
	if !setup.Site.DayEnd(day).After(now) {
		return nil, nil // it ran so late that the day is over
	}
	d, _, err := c.draft(ctx, j.Site, day, now, planner.Options{})
	if err != nil {
		return c.hopeless(j, "publish the prep sheet of "+j.Key, err)
	}
	// Today's sheet is replaced only where the shop works from one; a day further ahead stays as the manager left it.
	wanted := func(date models.Date) bool {
		return date == day || (date < day && d.published(date))
	}
	if len(d.newSheets(d.plan, now, wanted)) == 0 {
		return nil, nil
	}
	return func(tx models.Store) error { return d.store(ctx, tx, c.Now(), wanted) }, nil
}
