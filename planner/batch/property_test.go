package batch

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawInstance draws a valid instance, tiny or medium.
func drawInstance(t *rapid.T) *Instance {
	for {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		in := tiny(rng)
		if rng.IntN(2) == 0 {
			in = medium(rng)
		}
		if in.Validate() == nil {
			return in
		}
	}
}

func mustSolve(t *rapid.T, in *Instance, opt Options) *Result {
	r, err := Solve(context.Background(), in, opt)
	require.NoError(t, err)
	require.NoError(t, verify(in, r))
	return r
}

func tolerance(r *Result) float64 { return 1e-6 * max(1, math.Abs(r.Objective)) }

func TestPlanIsNeverWorseThanDoingNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		nothing, err := Evaluate(in, nil)
		require.NoError(t, err, "doing nothing is always feasible")
		r := mustSolve(t, in, Options{Budget: 5000})
		assert.LessOrEqual(t, r.Objective, nothing.Objective+tolerance(nothing))
		assert.LessOrEqual(t, r.LowerBound, r.Objective)
	})
}

func TestSolveIsDeterministic(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		opt := Options{Seed: rapid.Uint64().Draw(t, "solver seed"), Budget: 4000}
		assert.Equal(t, mustSolve(t, in, opt), mustSolve(t, in, opt))
	})
}

func TestEvaluateAgreesWithSolve(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		r := mustSolve(t, in, Options{Budget: 4000})
		again, err := Evaluate(in, r.Starts)
		require.NoError(t, err)
		assert.InDelta(t, r.Objective, again.Objective, tolerance(r))
	})
}

func TestWarmStartIsNeverMadeWorse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		first := mustSolve(t, in, Options{Seed: 1, Budget: 6000})
		second := mustSolve(t, in, Options{Seed: 2, Budget: 2000, Warm: first.Starts})
		assert.LessOrEqual(t, second.Objective, first.Objective+tolerance(first))
	})
}

// The lower bound with more ice is at most the cost of a plan with less.
func TestMoreIceNeverCostsMore(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		if in.Ice == nil {
			return
		}
		less := mustSolve(t, in, Options{Budget: 10000})
		more, ice := *in, *in.Ice
		more.Ice = &ice
		extra := rapid.Float64Range(0, 500).Draw(t, "extra")
		ice.CapacityG += extra
		ice.OpeningG += extra
		again, err := Evaluate(&more, less.Starts)
		require.NoError(t, err, "the same plan is still feasible")
		assert.LessOrEqual(t, again.Objective, less.Objective+tolerance(less))
		r := mustSolve(t, &more, Options{Budget: 10000, Warm: less.Starts})
		assert.LessOrEqual(t, r.Objective, less.Objective+tolerance(less))
		assert.LessOrEqual(t, r.LowerBound, less.Objective+tolerance(less))
	})
}

func TestLongerShelfLifeNeverCostsMoreWithALargeStore(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		in.StoreG = 1e8
		brief := mustSolve(t, in, Options{Budget: 10000})
		long := *in
		long.Beverages = append([]Beverage(nil), in.Beverages...)
		for i := range long.Beverages {
			long.Beverages[i].HoldSlots += 1 + rapid.IntRange(0, 5).Draw(t, "longer")
		}
		again, err := Evaluate(&long, brief.Starts)
		require.NoError(t, err)
		assert.LessOrEqual(t, again.Objective, brief.Objective+tolerance(brief))
		r := mustSolve(t, &long, Options{Budget: 10000, Warm: brief.Starts})
		assert.LessOrEqual(t, r.LowerBound, brief.Objective+tolerance(brief))
	})
}

// Weak duality holds at any prices, not only at those found by column generation.
func TestDualValueIsABoundAtAnyPrices(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		r := mustSolve(t, in, Options{Budget: 10000})
		p := compile(in)
		pool := newCutPool(p)
		q := newPrices(p)
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "prices"), 2))
		some := func(most float64) float64 { return max(0, rng.Float64()-0.7) * most }
		q.each(q, func(q, _ []float64) {
			for t := range q {
				q[t] = some(0.03)
			}
		})
		for b := range q.brewer {
			for t := range q.brewer[b] {
				q.brewer[b][t] = some(10)
			}
		}
		for k := range q.start { // without branching constraints these have no right-hand side
			clear(q.start[k])
		}
		for n := 0; n < 4 && p.slots > 2; n++ {
			from := 1 + rng.IntN(p.slots-1)
			if to := from + rng.IntN(p.slots-from); to-from < p.shortestHold()-1 && !underWay(p) {
				pool.index(cutStore, from, to)
				q.cut = append(q.cut, some(0.02))
			}
			if p.ice != nil {
				to := rng.IntN(p.slots)
				if m := pool.index(cutIce, rng.IntN(to+1), to); m == len(q.cut) {
					q.cut = append(q.cut, some(0.02))
				}
			}
		}
		q.cut = append(q.cut, make([]float64, len(pool.cuts))...)[:len(pool.cuts)]
		bound := newDual(p, pool).value(q, nil)
		assert.LessOrEqual(t, bound, r.Objective+tolerance(r))
	})
}

func underWay(p *problem) bool {
	for i := range p.bevs {
		for _, l := range p.bevs[i].opening {
			if l.ready > 0 {
				return true
			}
		}
	}
	return false
}
