package batch

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// withSizes gives every option of an instance a few sizes, some with ice of their own.
func withSizes(rng *rand.Rand, in *Instance) {
	for b := range in.Brewers {
		for k := range in.Brewers[b].Options {
			o := &in.Brewers[b].Options[k]
			for n := 1 + rng.IntN(3); n > 0; n-- {
				o.SizesG = append(o.SizesG, math.Round(o.MinG+rng.Float64()*(o.MaxG-o.MinG)))
			}
			o.SizesG = append(o.SizesG, o.MaxG)
			o.SizesG = slices.DeleteFunc(o.SizesG, func(g float64) bool { return g < o.MinG || g <= 0 })
			slices.Sort(o.SizesG)
			o.SizesG = slices.Compact(o.SizesG)
			if rng.IntN(2) == 0 {
				for _, g := range o.SizesG {
					o.SizesIceG = append(o.SizesIceG, g*o.IcePerG*(1+0.01*rng.Float64()))
				}
			}
		}
	}
}

// bestOfSizes is the minimum cost over all sets of starts with all sizes; ok is false if there are more than most.
func bestOfSizes(in *Instance, most int) (cost float64, ok bool) {
	p := compile(in)
	p.whole = true
	var all []batchStart
	for k := range p.opts {
		for t, may := range p.opts[k].canStart {
			for _, g := range p.opts[k].sizes {
				if may {
					all = append(all, batchStart{opt: k, slot: t, g: g})
				}
			}
		}
	}
	s := &solver{p: p}
	best, count := math.Inf(1), 0
	var walk func(from int, set []batchStart)
	walk = func(from int, set []batchStart) {
		if count++; count > most {
			return
		}
		if r, ok := p.result(slices.Clone(set)); ok {
			best = min(best, r.Objective)
		}
		for k := from; k < len(all); k++ {
			if s.canPlace(set, all[k].opt, all[k].slot, -1) {
				walk(k+1, append(set[:len(set):len(set)], all[k]))
			}
		}
	}
	walk(0, nil)
	return best, count <= most
}

// Plans of whole sizes are feasible, cost no less than the bound, and are seldom far from the best of all plans.
func TestSizesAreChosenWell(t *testing.T) {
	t.Parallel()
	seen, far := 0, 0
	for seed := uint64(1); seen < 60; seed++ {
		rng := rand.New(rand.NewPCG(seed, 11))
		in := tiny(rng)
		withSizes(rng, in)
		if in.Validate() != nil { // stock that does not fit the store
			continue
		}
		best, ok := bestOfSizes(in, 3000)
		if !ok {
			continue
		}
		seen++
		r, err := Solve(context.Background(), in, Options{Seed: seed, Budget: 30000})
		require.NoError(t, err)
		e, err := Evaluate(in, r.Starts)
		require.NoError(t, err, "seed %d: a plan that the instance refuses", seed)
		require.InDelta(t, e.Objective, r.Objective, 1e-6*(1+math.Abs(e.Objective)))
		require.GreaterOrEqual(t, r.Objective, best-1e-6*(1+math.Abs(best)), "seed %d", seed)
		require.LessOrEqual(t, r.LowerBound, best+1e-6*(1+math.Abs(best)), "seed %d: the bound is above the best plan", seed)
		if r.Objective > best+0.01*math.Abs(best)+1e-6 {
			far++
		}
	}
	require.LessOrEqual(t, far, 3, "plans more than 1 %% above the best, of %d", seen)
}

func TestGramsThatAreNotASizeAreRefused(t *testing.T) {
	t.Parallel()
	in := &Instance{SlotMin: 30, Slots: 4, StartsPerSlot: 1, StoreG: 5000,
		Beverages: []Beverage{{Name: "a", DemandG: []float64{0, 0, 900, 0}, HoldSlots: 4, ShortPerKg: 50}},
		Brewers:   []Brewer{{Name: "w", Options: []Option{{Beverage: "a", MinG: 500, MaxG: 2000, BusySlots: 1, SizesG: []float64{1000, 2000}}}}}}
	_, err := Evaluate(in, []Start{{Brewer: "w", Beverage: "a", G: 1200}})
	require.ErrorContains(t, err, "sizes_g")
	r, err := Solve(context.Background(), in, Options{Seed: 1})
	require.NoError(t, err)
	require.Len(t, r.Starts, 1)
	require.Equal(t, 1000.0, r.Starts[0].G, "the smallest size that is enough")

	in.Brewers[0].Options[0].SizesG = []float64{2000, 1000}
	require.ErrorContains(t, in.Validate(), "/brewers/0/options/0/sizes_g/1")
}
