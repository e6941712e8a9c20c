package planner

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/models"
)

// A plan of the background is asked for its fixes once it is known that somebody will see it.
func TestFixesAreComputedOnlyWhereTheyAreWanted(t *testing.T) {
	t.Parallel()
	r := requestFrom(t, "one-day.json")
	always, err := Compute(context.Background(), r)
	require.NoError(t, err)
	for _, want := range []bool{true, false} {
		asked := 0
		p, err := ComputeWith(context.Background(), r, Options{FixesIf: func(p models.Plan) bool {
			asked++
			assert.Len(t, p.Batches, len(always.Batches), "the plan is complete but for its fixes")
			assert.Equal(t, kinds(always), kinds(p))
			return want
		}})
		require.NoError(t, err)
		require.Equal(t, 1, asked)
		if want {
			assert.Equal(t, always, p)
			continue
		}
		for _, b := range p.Batches {
			assert.Empty(t, b.Otherwise)
		}
		for _, w := range p.Warnings {
			assert.Empty(t, w.Fixes)
		}
	}
}
