package jobs

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
	"hotday/planner/sheet"
)

// replan plans the rest of the days anew after something changed what is possible, keeping what is started or made. What
// differs little is published by itself where the shop works from a published sheet; what differs much waits as a proposal.
// A job with a PlanOrder computes that plan and publishes nothing.
func (c Config) replan(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	now := c.Now()
	if len(j.Args) > 0 {
		return c.ordered(ctx, j)
	}
	d, ok, err := c.draft(ctx, j.Site, "", now, planner.Options{})
	if err != nil {
		return c.hopeless(j, "plan the rest of the day anew", err)
	}
	if !ok {
		return nil, nil
	}
	publish := d.published
	if d.largeChange() {
		publish = func(models.Date) bool { return false }
	}
	if len(d.newSheets(d.plan, now, publish)) == 0 && !d.proposes() {
		return func(tx models.Store) error { return c.warn(ctx, tx, d, now) }, nil
	}
	return func(tx models.Store) error {
		if err := d.store(ctx, tx, c.Now(), publish); err != nil {
			return err
		}
		return c.warn(ctx, tx, d, now)
	}, nil
}

func (c Config) ordered(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	now := c.Now()
	var o models.PlanOrder
	if err := json.Unmarshal(j.Args, &o); err != nil {
		return nil, fmt.Errorf("read what plan is wanted: %w", err)
	}
	if o.Now != nil {
		now = *o.Now
	}
	var d draft
	var err error
	if d.latest, err = c.latest(ctx, j.Site); err != nil {
		return nil, err
	}
	if err = c.fill(ctx, &d, facts.GatherQuery{Site: j.Site, From: o.From, Days: o.Days, Now: now}, planner.Options{}); err != nil {
		return c.hopeless(j, "compute the plan asked for", err)
	}
	return func(tx models.Store) error {
		return d.store(ctx, tx, c.Now(), func(models.Date) bool { return false })
	}, nil
}

// Bounds within which a replan is published by itself: a batch may move or grow by these.
const (
	smallMove   = 45 * time.Minute
	smallGrowth = 0.25
)

// largeChange reports whether the batches that are still to be made differ from the published ones by more than the kitchen
// should find changed without the manager: one more, one less, or one that moves or grows beyond the bounds.
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
		if old.Start.Sub(b.Start).Abs() > smallMove || math.Abs(old.BeverageG-b.BeverageG) > smallGrowth*old.BeverageG {
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

// proposes reports whether a plan has something to say that the latest, a proposal perhaps that waits or was put aside, did not say,
// and that differs from what the kitchen does.
func (d draft) proposes() bool {
	return len(d.changesToAct(d.latest)) > 0 && (d.kept == nil || len(d.changesToAct(d.kept)) > 0)
}

// changesToAct are the differences from another plan that somebody would act on.
func (d draft) changesToAct(from *models.Plan) []models.Change {
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
