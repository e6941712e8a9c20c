package jobs

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.opentelemetry.io/otel/sdk/trace"
	"go.opentelemetry.io/otel/sdk/trace/tracetest"

	"hotday/models"
	"hotday/planner"
)

// heard is Measures that keeps what it hears.
type heard struct{ jobs, plans []string }

func (h *heard) Job(kind, outcome string, _ time.Duration) {
	h.jobs = append(h.jobs, kind+" "+outcome)
}
func (h *heard) Planned(by string, p models.Plan, _ time.Duration) {
	h.plans = append(h.plans, fmt.Sprint(by, " ", p.Days))
}

func TestEachAttemptIsMeasuredAndTracedOnce(t *testing.T) {
	t.Parallel()
	spans := tracetest.NewSpanRecorder()
	h := &heard{}
	c := Config{Measures: h, Traces: trace.NewTracerProvider(trace.WithSpanProcessor(spans)),
		Compute: func(_ context.Context, r models.PlanRequest, _ planner.Options) (models.Plan, error) {
			return models.Plan{Days: r.Days}, nil
		}}.withDefaults()
	broken := errors.New("broken")
	for _, w := range []struct {
		outcome   string
		err       error
		effect    error
		noEffect  bool
		panics    bool
		panicsTwo bool
	}{
		{outcome: models.OutcomeDone},
		{outcome: models.OutcomeDone, noEffect: true},
		{outcome: models.OutcomeFailed, err: broken},
		{outcome: models.OutcomeFailed, effect: broken},
		{outcome: models.OutcomeTimedOut, err: fmt.Errorf("plan: %w", context.DeadlineExceeded)},
		{outcome: models.OutcomeHandedBack, err: fmt.Errorf("plan: %w", context.Canceled)},
		{outcome: models.OutcomeFailed, panics: true},
		{outcome: models.OutcomeFailed, panicsTwo: true},
	} {
		h.jobs = nil
		before := len(spans.Ended())
		work := c.measured(models.JobWatch, func(ctx context.Context, _ models.Job) (func(models.Store) error, error) {
			if w.panics {
				panic("in the work")
			}
			if w.err != nil || w.noEffect {
				return nil, w.err
			}
			return func(models.Store) error {
				if w.panicsTwo {
					panic("in the effect")
				}
				return w.effect
			}, nil
		})
		func() {
			defer func() { require.Equal(t, w.panics || w.panicsTwo, recover() != nil, "%+v: a panic goes on", w) }()
			effect, err := work(t.Context(), models.Job{Kind: models.JobWatch, Site: "harbour", Key: "k"})
			require.ErrorIs(t, err, w.err)
			if err != nil {
				return
			}
			require.Empty(t, h.jobs, "the attempt ends with its effect")
			require.ErrorIs(t, effect(nil), w.effect)
		}()
		require.Equal(t, []string{"watch " + w.outcome}, h.jobs, "%+v", w)
		require.Len(t, spans.Ended(), before+1, "%+v", w)
	}
	d := draft{req: models.PlanRequest{Days: 3}}
	require.NoError(t, c.compute(t.Context(), &d, planner.Options{}, false))
	require.Equal(t, []string{"job 3"}, h.plans)
	last := spans.Ended()[len(spans.Ended())-1]
	require.Equal(t, "compute plan", last.Name())
}
