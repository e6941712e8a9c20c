package jobs

import (
	"context"
	"errors"
	"fmt"
	"time"

	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/trace"

	"hotday/models"
	"hotday/planner"
)

// Time limits of a plan, from when it has a core. Together with reading and waiting they are shorter than the queue's limit of an attempt.
const (
	orderedTime    = 8 * time.Minute // somebody waits for it
	backgroundTime = 4 * time.Minute
	timeToStore    = 15 * time.Second // left of the attempt
)

// mostTimedOut is how many attempts may run out of time before a job of the background is given up with a reason.
const mostTimedOut = 3

// briefShare is the fraction of the time that is kept for a brief plan.
const briefShare = 0.25

// errTooLong is the failure of a plan whose time was up, a brief one included.
var errTooLong = fmt.Errorf("even a brief plan was not ready in time: %w", context.DeadlineExceeded)

// computed is c.Compute for a job with a core, in time, measured and traced.
func (c Config) computed(ctx context.Context, j models.Job, r models.PlanRequest, o planner.Options) (models.Plan, error) {
	takeCore, limit := c.Cores.InBackground, c.backgroundTime
	if j.Kind == models.JobPlan {
		takeCore, limit = c.Cores.ForPeople, c.orderedTime
	} else {
		o.Parallel = c.Cores.Background()
	}
	release, err := takeCore(ctx)
	if err != nil {
		return models.Plan{}, err
	}
	defer release()
	began := time.Now()
	ctx, span := c.tracer.Start(ctx, "compute plan", trace.WithAttributes(attribute.String("hotday.site", r.Site.Code), attribute.Int("hotday.days", r.Days)))
	defer span.End()
	if end, ok := ctx.Deadline(); ok {
		limit = min(limit, time.Until(end)-timeToStore)
	}
	plan, err := c.inTime(ctx, j, r, o, limit)
	if err != nil {
		span.SetStatus(codes.Error, err.Error())
		return plan, err
	}
	c.Measures.Planned(byJob, plan, time.Since(began))
	return plan, nil
}

// inTime computes a plan within a limit. When most of the time is up it takes the plan as far as it had come, without its fixes; if
// there is none yet, or an earlier attempt was not ready in time, it settles for a brief plan.
func (c Config) inTime(ctx context.Context, j models.Job, r models.PlanRequest, o planner.Options, limit time.Duration) (models.Plan, error) {
	if j.TimedOut == 0 {
		var found *models.Plan
		full, wanted := o, o.FixesIf
		full.FixesIf = func(p models.Plan) bool {
			found = &p
			return wanted == nil || wanted(p)
		}
		plan, err := c.limited(ctx, r, full, time.Duration((1-briefShare)*float64(limit)))
		if !errors.Is(err, context.DeadlineExceeded) || ctx.Err() != nil {
			return plan, err
		}
		if found != nil {
			c.Log.Warn("a plan was not ready in time; it goes without its fixes", "job", j.Kind, "site", j.Site, "limit", limit)
			return *found, nil
		}
	}
	c.Log.Warn("a plan is not ready in time; a brief one is computed", "job", j.Kind, "site", j.Site, "limit", limit, "timed_out", j.TimedOut)
	plan, err := c.limited(ctx, r, o.Brief(), time.Duration(briefShare*float64(limit)))
	if errors.Is(err, context.DeadlineExceeded) && ctx.Err() == nil {
		return plan, errTooLong
	}
	return plan, err
}

func (c Config) limited(ctx context.Context, r models.PlanRequest, o planner.Options, limit time.Duration) (models.Plan, error) {
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	return c.Compute(ctx, r, o)
}
