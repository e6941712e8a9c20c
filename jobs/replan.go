package jobs

import (
	"context"
	"math"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/sheet"
)

// replan replans the remaining days after a change, keeping tasks that are started or made. Small changes to published sheets are
// published at once; large ones are stored as a proposal.
func (c Config) replan(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	now := c.Now()
	open, err := openByKey(ctx, c.Store, j.Site)
	if err != nil {
		return c.hopeless(ctx, j, "replan the rest of the day", err)
	}
	d, ok, err := c.draft(ctx, j, "", now, planner.Options{}, func(d *draft) bool { return d.isNews(now) || d.hasNewWarnings(open) })
	if err != nil {
		return c.hopeless(ctx, j, "replan the rest of the day", err)
	}
	if !ok {
		return nil, nil
	}
	if !d.isNews(now) {
		return func(tx models.Store) error { return c.warn(ctx, tx, d, now) }, nil
	}
	return func(tx models.Store) error {
		if err := d.store(ctx, tx, c.Now(), d.publishable()); err != nil {
			return err
		}
		return c.warn(ctx, tx, d, now)
	}, nil
}

// publishable reports the days whose sheets a replan publishes without the manager: the published ones, or none after a large change.
func (d draft) publishable() func(models.Date) bool {
	if d.largeChange() {
		return func(models.Date) bool { return false }
	}
	return d.published
}

// isNews reports whether a replan is stored: it changes published sheets, or is worth a proposal.
func (d draft) isNews(now time.Time) bool {
	return len(d.newSheets(d.plan, now, d.publishable())) > 0 || d.proposes()
}

// A batch may move or change its size within these bounds without the manager's approval.
const (
	smallMove   = 45 * time.Minute
	smallResize = 0.25 // of the grams
)

// largeChange reports whether the batches still to be made differ so much from the published ones that the manager must decide: one
// was added or removed, or one moved or changed its size beyond the bounds.
func (d draft) largeChange() bool {
	before := map[string]models.BatchTask{}
	for _, s := range d.sheets {
		for _, t := range s.Tasks {
			if t.Kind == models.TaskBrew && t.Batch != nil && t.State == models.Due && t.Batch.Start.After(d.req.Now) {
				before[batchPlace(*t.Batch)+t.Batch.ID] = *t.Batch
			}
		}
	}
	if len(d.sheets) == 0 {
		return false
	}
	missing := len(before)
	left := map[string][]models.BatchTask{}
	for _, b := range before {
		left[batchPlace(b)] = append(left[batchPlace(b)], b)
	}
	for _, b := range d.plan.Batches {
		if b.State != models.Due {
			continue
		}
		if !d.published(b.Date) {
			continue
		}
		i := nearest(left[batchPlace(b)], b)
		if i < 0 {
			return true
		}
		old := left[batchPlace(b)][i]
		left[batchPlace(b)] = append(left[batchPlace(b)][:i:i], left[batchPlace(b)][i+1:]...)
		missing--
		if old.Start.Sub(b.Start).Abs() > smallMove || math.Abs(old.BeverageG-b.BeverageG) > smallResize*old.BeverageG {
			return true
		}
	}
	return missing > 0
}

func batchPlace(b models.BatchTask) string {
	return string(b.Date) + "/" + b.Brewer + "/" + b.Beverage + "/"
}

func nearest(list []models.BatchTask, b models.BatchTask) int {
	best := -1
	for i, x := range list {
		if best < 0 || x.Start.Sub(b.Start).Abs() < list[best].Start.Sub(b.Start).Abs() {
			best = i
		}
	}
	return best
}

// proposes reports whether the draft is worth a proposal: it differs both from the latest plan, which may be a pending or dismissed
// proposal, and from the plan that the kitchen works from.
func (d draft) proposes() bool {
	return len(d.actionable(d.latest)) > 0 && (d.current == nil || len(d.actionable(d.current)) > 0)
}

// actionable returns the differences from another plan that require action.
func (d draft) actionable(from *models.Plan) []models.Change {
	var out []models.Change
	if from == nil {
		return out
	}
	for _, ch := range sheet.Changes(*from, d.plan, d.req.Setup) {
		if ch.Kind == "batch" || ch.Kind == "ice" || ch.Kind == "pull" {
			out = append(out, ch)
		}
	}
	return out
}
