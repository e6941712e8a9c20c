package batch

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The cost of given starts must equal that of the full linear program.
func TestFitAgreesWithTheFullProgram(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(3, 3))
	for n := 0; n < 3000; n++ {
		in := tiny(rng)
		if in.Validate() != nil {
			continue
		}
		p := compile(in)
		set := someStarts(rng, p)
		want := fullProgram(p, set)
		require.False(t, math.IsNaN(want))
		got, ok := newFitter(p).fit(set, false)
		if math.IsInf(want, 1) {
			require.False(t, ok, "instance %d: %g", n, got)
			continue
		}
		require.True(t, ok, "instance %d, starts %v: want %g", n, set, want)
		require.InDelta(t, want, got, 1e-5*max(1, math.Abs(want)), "instance %d, starts %v", n, set)
		r, ok := p.result(set)
		require.True(t, ok)
		require.InDelta(t, want, r.Objective, 1e-5*max(1, math.Abs(want)), "instance %d, starts %v", n, set)
	}
}

// someStarts draws starts that fit brewers and people.
func someStarts(rng *rand.Rand, p *problem) []batchStart {
	s := &solver{p: p}
	var set []batchStart
	for k := 0; k < 6 && len(p.opts) > 0; k++ {
		o, t := rng.IntN(len(p.opts)), rng.IntN(p.slots)
		if s.canPlace(set, o, t, -1) {
			set = append(set, batchStart{opt: o, slot: t})
		}
	}
	return set
}
