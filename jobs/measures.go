package jobs

import (
	"context"
	"errors"
	"time"

	"go.opentelemetry.io/otel/attribute"
	"go.opentelemetry.io/otel/codes"
	"go.opentelemetry.io/otel/trace"

	"hotday/models"
)

// Measures hears of what the jobs do, for metrics.
type Measures interface {
	// Job hears of an attempt of a job that ended with one of the outcomes of models.
	Job(kind, outcome string, took time.Duration)
	// Planned hears of a plan that a job computed.
	Planned(by string, plan models.Plan, took time.Duration)
}

// byJob is who asked for the plans of this package.
const byJob = "job"

// unmeasured is Measures that nobody reads.
type unmeasured struct{}

func (unmeasured) Job(string, string, time.Duration)                {}
func (unmeasured) Planned(_ string, _ models.Plan, _ time.Duration) {}

// measured is work whose attempts are measured and traced, from its beginning to the end of its effect, in real time.
func (c Config) measured(kind string, work models.Work) models.Work {
	return func(ctx context.Context, j models.Job) (effect func(models.Store) error, err error) {
		began := time.Now()
		ctx, span := c.tracer.Start(ctx, "job "+kind, trace.WithAttributes(attribute.String("hotday.site", j.Site), attribute.String("hotday.key", j.Key)))
		end := func(failed error) {
			outcome := outcomeOf(failed)
			c.Measures.Job(kind, outcome, time.Since(began))
			span.SetAttributes(attribute.String("hotday.outcome", outcome))
			if failed != nil {
				span.SetStatus(codes.Error, failed.Error())
			}
			span.End()
		}
		guarded := func(run func() error) error { // the queue recovers panics
			failed := errPanic
			defer func() {
				if failed != nil {
					end(failed)
				}
			}()
			failed = run()
			return failed
		}
		if err := guarded(func() (err error) { effect, err = work(ctx, j); return err }); err != nil {
			return nil, err
		}
		inner := effect
		return func(tx models.Store) error {
			err := guarded(func() error {
				if inner == nil {
					return nil
				}
				return inner(tx)
			})
			if err == nil {
				end(nil)
			}
			return err
		}, nil
	}
}

var errPanic = errors.New("panic")

func outcomeOf(err error) string {
	switch {
	case err == nil:
		return models.OutcomeDone
	case errors.Is(err, context.DeadlineExceeded):
		return models.OutcomeTimedOut
	case errors.Is(err, context.Canceled):
		return models.OutcomeHandedBack
	}
	return models.OutcomeFailed
}
