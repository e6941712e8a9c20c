package jobs

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"hotday/models"
	"hotday/planner"
	"hotday/planner/facts"
)

// shareFacts is the fraction of a plan's work that is done when the facts have been read.
const shareFacts = 0.02

// errNoDemand is the failure of a plan for days of which nothing is expected.
var errNoDemand = errors.New("no demand to plan for")

// orderedPlan computes the plan of a PlanOrder and stores it without publishing it. It reports its steps as it goes, and why it failed:
// whoever ordered it tries again, so it is not retried unless the service stops.
func (c Config) orderedPlan(ctx context.Context, j models.Job) (func(models.Store) error, error) {
	var o models.PlanOrder
	if err := json.Unmarshal(j.Args, &o); err != nil {
		return nil, fmt.Errorf("read the plan order: %w", err)
	}
	working, r := c.report(ctx, j, stepWords[models.StepFacts])
	if !o.OrderedAt.IsZero() {
		r.now.StartedAt = o.OrderedAt
	}
	rest := r.beat()
	d, err := c.computeOrder(working, j, &o, r)
	rest()
	switch {
	case r.stopped():
		return func(tx models.Store) error { return r.finish(ctx, tx) }, nil
	case ctx.Err() != nil: // shutdown: the queue gives the job to another, which goes on reporting
		return nil, ctx.Err()
	case models.CodeOf(err) == models.CodeNotFound:
		return nil, nil // the site is gone
	case err != nil:
		c.Log.Warn("ordered plan failed", "site", j.Site, "from", o.From, "days", o.Days, "error", err)
		return func(tx models.Store) error { return r.fail(ctx, tx, planProblem(err)) }, nil //nolint:nilerr // whoever ordered it is told
	}
	return func(tx models.Store) error {
		if err := d.storeOrder(ctx, tx, c.Now()); err != nil {
			return err
		}
		return r.finishWith(ctx, tx, d.plan.Revision)
	}, nil
}

// computeOrder computes the plan of an order. Where the kitchen has a sheet for any of its days, it stays close to the plan before.
func (c Config) computeOrder(ctx context.Context, j models.Job, o *models.PlanOrder, r *reporter) (d draft, err error) {
	now, site := c.Now(), j.Site
	d.job = j
	if o.Now != nil {
		now = *o.Now
	}
	r.step(models.StepFacts, 0)
	if d.latest, err = c.latest(ctx, site); err != nil {
		return d, err
	}
	q := facts.GatherQuery{Site: site, From: o.From, Days: o.Days, Now: now}
	if err := c.read(ctx, &d, q); err != nil {
		return d, err
	}
	if len(d.req.Demand) == 0 && len(d.req.Forecast) == 0 {
		return d, errNoDemand
	}
	digest, err := planner.Digest(d.req)
	if err != nil {
		return d, err
	}
	if known, found, err := c.Store.PlanByDigest(ctx, site, digest); err != nil || found {
		d.plan = known
		return d, err
	}
	options := planner.Options{Progress: func(step string, share float64) { r.step(step, shareFacts+(1-shareFacts)*share) }}
	return d, c.compute(ctx, &d, options, d.keptByKitchen(o))
}

// keptByKitchen reports whether the kitchen has a sheet for any day of an order.
func (d draft) keptByKitchen(o *models.PlanOrder) bool {
	for n := range o.Days {
		if d.published(o.From.AddDays(n)) {
			return true
		}
	}
	return false
}

// storeOrder stores an ordered plan. One that was dismissed is a proposal again.
func (d *draft) storeOrder(ctx context.Context, tx models.Store, now time.Time) error {
	site := d.req.Site.Code
	if err := d.store(ctx, tx, now, func(models.Date) bool { return false }); err != nil {
		return err
	}
	if d.latest != nil && d.plan.Revision == d.latest.Revision {
		return tx.SetAside(ctx, site, d.plan.Revision, time.Time{})
	}
	_, err := tx.Enqueue(ctx, models.WatchJob(site, now))
	return err
}

// planProblem is the problem that the failure of a plan is reported as.
func planProblem(err error) string {
	switch {
	case errors.Is(err, errNoDemand):
		return models.ProblemNoDemand
	case errors.Is(err, context.DeadlineExceeded):
		return models.ProblemTooLong
	case models.CodeOf(err) == models.CodeInvalid:
		return models.ProblemInvalid
	}
	return models.ProblemInternal
}

// stepWords are the steps of a plan in words.
var stepWords = map[string]string{
	models.StepFacts:   "Reading the facts",
	models.StepDemand:  "Expected demand",
	models.StepBatches: "Choosing the batches",
	models.StepDays:    "Simulating days",
	models.StepFixes:   "Looking for fixes",
}
