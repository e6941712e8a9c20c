package api

import (
	"context"
	"fmt"
	"time"

	"github.com/gin-gonic/gin"

	"hotday/models"
)

// compute runs a computation that takes long in the caller's only place, on a core of its own, until it has taken Config.ComputeTime or
// the client has left.
func (s *Server) compute(c *gin.Context, do func(ctx context.Context) error) error {
	done, err := s.reserve(c, &s.budgets.places, 1)
	if err != nil {
		return err
	}
	defer done()
	tooLong := fmt.Errorf("more than %s", s.ComputeTime)
	ctx, cancel := context.WithTimeoutCause(c.Request.Context(), s.ComputeTime, tooLong)
	defer cancel()
	if err = s.turns.Acquire(ctx, 1); err == nil {
		defer s.turns.Release(1)
		err = s.onACore(ctx, do)
	}
	if err != nil && context.Cause(ctx) == tooLong { //nolint:errorlint // of this context, not of one around it
		setRetryAfter(c, computeRetry)
		return models.Errorf(models.CodeBusy, "this took %s and was stopped; ask for less, or try again later", tooLong)
	}
	return err
}

func (s *Server) onACore(ctx context.Context, do func(ctx context.Context) error) error {
	done, err := s.Cores.ForPeople(ctx)
	if err != nil {
		return err
	}
	defer done()
	return do(ctx)
}

const computeRetry = 30 * time.Second

// computeQuickly runs a computation of milliseconds, which does not wait for those that take long.
func (s *Server) computeQuickly(c *gin.Context, do func(ctx context.Context) error) error {
	done, err := s.reserve(c, &s.budgets.quick, 1)
	if err != nil {
		return err
	}
	defer done()
	return do(c.Request.Context())
}
