package batch

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// limited gives an instance a supply of about half of what its plan without limits takes, growing over the slots.
func limited(in *Instance, r *Result) *Instance {
	out := *in
	l := Limit{Name: "water", MostG: make([]float64, in.Slots), PerG: make([]float64, len(in.Beverages))}
	total := 0.0
	for i := range l.PerG {
		l.PerG[i] = 0.8 + 0.3*float64(i%2)
	}
	p := compile(in)
	own, _ := p.resolve(r.Starts)
	for _, s := range own {
		total += p.takes(&l, s)
	}
	for t := range l.MostG {
		l.MostG[t] = total * (0.2 + 0.3*float64(t)/float64(in.Slots))
	}
	out.Limits = []Limit{l}
	return &out
}

// Whatever the instance, a plan keeps to its limits by an account of its own, costs no less than the plan without them, and no more than
// doing nothing.
func TestPlansKeepToLimits(t *testing.T) {
	t.Parallel()
	for seed := range uint64(12) {
		in := cafe(rand.New(rand.NewPCG(seed, 5)), 60, 2, 3, seed%2 == 0)
		free, err := Solve(context.Background(), in, Options{Seed: seed, Budget: 30_000})
		require.NoError(t, err)
		nothing, err := Evaluate(in, nil)
		require.NoError(t, err)
		tight := limited(in, free)
		if len(free.Starts) > 1 {
			require.Equal(t, "water", tight.OverLimit(free.Starts))
			_, err = Evaluate(tight, free.Starts)
			require.ErrorContains(t, err, "of water")
		}
		r, err := Solve(context.Background(), tight, Options{Seed: seed, Budget: 30_000, Warm: free.Starts})
		require.NoError(t, err)
		require.NoError(t, verify(tight, r))
		l, used := &tight.Limits[0], make([]float64, in.Slots)
		for _, s := range r.Starts {
			for i := range in.Beverages {
				if in.Beverages[i].Name == s.Beverage {
					for at := s.StartSlot; at < in.Slots; at++ {
						used[at] += s.G * l.PerG[i]
					}
				}
			}
		}
		for at := range used {
			require.LessOrEqual(t, used[at], l.MostG[at]+0.01, "slot %d", at)
		}
		assert.LessOrEqual(t, r.Objective, nothing.Objective+1e-6)
		assert.GreaterOrEqual(t, r.Objective, free.LowerBound-1e-6)
	}
}

// A supply for one batch of two goes to the beverage that earns more with it.
func TestALimitGoesToTheBeverageThatEarnsMost(t *testing.T) {
	t.Parallel()
	in := &Instance{SlotMin: 30, Slots: 8, StartsPerSlot: 2, StoreG: 1e5}
	for _, b := range []struct {
		name  string
		short float64
	}{{"cheap", 2000}, {"dear", 5000}} {
		in.Beverages = append(in.Beverages, Beverage{Name: b.name, DemandG: []float64{0, 0, 1000, 1000, 1000, 0, 0, 0}, ReadySlots: 1, HoldSlots: 8, UnitCostPerKg: 500, ShortPerKg: b.short})
	}
	in.Brewers = []Brewer{{Name: "w", Options: []Option{{Beverage: "cheap", MinG: 500, MaxG: 4000, BusySlots: 1, BatchCost: 100}, {Beverage: "dear", MinG: 500, MaxG: 4000, BusySlots: 1, BatchCost: 100}}}}
	most := make([]float64, 8)
	for t := range most {
		most[t] = 3600
	}
	in.Limits = []Limit{{Name: "water", MostG: most, PerG: []float64{1, 1}, PerBatch: 50}}
	r, err := Solve(context.Background(), in, Options{Seed: 1, Budget: 20_000})
	require.NoError(t, err)
	made := map[string]float64{}
	for _, s := range r.Starts {
		made[s.Beverage] += s.G
	}
	assert.InDelta(t, 3000, made["dear"], 1)
	assert.LessOrEqual(t, made["cheap"], 500+1e-3, "what is left after two batches' rinsing")
	assert.False(t, math.IsNaN(r.Objective))
}

// Where the supply comes a slot later than the best start, the batch waits for it.
func TestABatchWaitsForItsSupply(t *testing.T) {
	t.Parallel()
	in := cafe(rand.New(rand.NewPCG(3, 5)), 60, 1, 2, false)
	free, err := Solve(context.Background(), in, Options{Budget: 30_000})
	require.NoError(t, err)
	require.NotEmpty(t, free.Starts)
	first := free.Starts[0]
	l := Limit{Name: "water", MostG: make([]float64, in.Slots), PerG: make([]float64, len(in.Beverages))}
	for i := range l.PerG {
		l.PerG[i] = 1
	}
	for s := first.StartSlot + 1; s < in.Slots; s++ {
		l.MostG[s] = 1e9
	}
	late := *in
	late.Limits = []Limit{l}
	r, err := Solve(context.Background(), &late, Options{Budget: 30_000, Warm: free.Starts})
	require.NoError(t, err)
	require.NoError(t, verify(&late, r))
	assert.Greater(t, r.Starts[0].StartSlot, first.StartSlot)
	moved := append([]Start{}, free.Starts...)
	moved[0].StartSlot++
	if m, err := Evaluate(&late, moved); err == nil {
		assert.LessOrEqual(t, r.Objective, m.Objective*1.001+1)
	}
}
