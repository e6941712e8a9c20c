package jobs

import (
	"context"

	"hotday/models"
	"hotday/planner"
)

// nightlyPolish is how many times longer than for a person waiting the plan that is published at night is polished.
const nightlyPolish = 10

// publish publishes the next service day's prep sheet and updates today's with tonight's tasks for it. If the published sheets are up
// to date, it stores no other. Either way the next day's sheet goes out by e-mail and as a notification.
func (c Config) publish(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	now, day := c.Now(), models.Date(j.Key)
	setup, _, err := c.Store.Setup(ctx, j.Site)
	if err != nil {
		return c.hopeless(ctx, j, "publish the prep sheet for "+j.Key, err)
	}
	if !setup.Site.DayEnd(day).After(now) {
		return nil, nil // too late: the day is over
	}
	// Today's sheet is replaced only if one is published; sheets of later days are left to the manager.
	wanted := func(d *draft) func(models.Date) bool {
		return func(date models.Date) bool { return date == day || (date < day && d.published(date)) }
	}
	publishes := func(d *draft) bool { return len(d.newSheets(d.plan, now, wanted(d))) > 0 }
	d, _, err := c.draft(ctx, j, day, now, planner.Options{Polish: nightlyPolish}, publishes)
	if err != nil {
		return c.hopeless(ctx, j, "publish the prep sheet for "+j.Key, err)
	}
	fresh := publishes(&d)
	return func(tx models.Store) error {
		if fresh {
			if err := d.store(ctx, tx, c.Now(), wanted(&d)); err != nil {
				return err
			}
		}
		return c.sendSheet(ctx, tx, setup.Site, day)
	}, nil
}
