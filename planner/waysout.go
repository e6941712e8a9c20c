package planner

import "context"

func (j *job) findWaysOut(ctx context.Context) error { return ctx.Err() }
