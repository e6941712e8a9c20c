package batch

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// limitHands gives the instance hands, baths or both: windows of two slots with little time in some, and options whose work falls into
// the window of their start and into later ones.
func limitHands(rng *rand.Rand, in *Instance) {
	kind := rng.IntN(3)
	if kind != 1 {
		for w := 0; 2*w < in.Slots; w++ {
			in.WorkMin = append(in.WorkMin, pick(rng, 0, 5, 5, 9, 9, 14))
		}
	}
	if kind != 0 {
		for t := 0; t < in.Slots; t++ {
			in.Baths = append(in.Baths, min(1, rng.IntN(4)))
		}
	}
	for b := range in.Brewers {
		for k := range in.Brewers[b].Options {
			o := &in.Brewers[b].Options[k]
			o.BathFrom = rng.IntN(2)
			o.BathTo = o.BathFrom + rng.IntN(4)
			if in.WorkMin == nil || rng.IntN(5) == 0 {
				continue
			}
			brew, store, later := pick(rng, 5, 5, 8), pick(rng, 0, 4, 6), 1+rng.IntN(3)
			for t := 0; t < in.Slots; t++ {
				uses := []WorkUse{{Window: t / 2, Min: brew}}
				if w := (t + later) / 2; w < len(in.WorkMin) {
					uses = append(uses, WorkUse{Window: w, Min: store})
				}
				o.Work = append(o.Work, uses)
			}
		}
	}
}

// handsBroken is an independent check of work and baths: it reads the instance alone.
func handsBroken(in *Instance, starts []Start) error {
	work, baths := map[int]float64{}, map[int]int{}
	for _, s := range starts {
		for _, br := range in.Brewers {
			for _, o := range br.Options {
				if br.Name != s.Brewer || o.Beverage != s.Beverage {
					continue
				}
				if o.Work != nil {
					for _, u := range o.Work[s.StartSlot] {
						work[u.Window] += u.Min
					}
				}
				for t := s.StartSlot + o.BathFrom; t < s.StartSlot+o.BathTo; t++ {
					baths[t]++
				}
			}
		}
	}
	for w, m := range work {
		if in.WorkMin != nil && m > in.WorkMin[w]+1e-5 {
			return fmt.Errorf("window %d needs %g min of %g", w, m, in.WorkMin[w])
		}
	}
	for t, n := range baths {
		if in.Baths != nil && t < in.Slots && n > in.Baths[t] {
			return fmt.Errorf("slot %d has %d batches in %d baths", t, n, in.Baths[t])
		}
	}
	return nil
}

// exhaustiveOfHands is exhaustive with limits on work and baths checked by handsBroken instead of the solver's own code.
func exhaustiveOfHands(in *Instance, most int) (best float64, ok bool) {
	plain := *in
	plain.WorkMin, plain.Baths = nil, nil
	p := compile(&plain)
	s := &solver{p: p}
	best = math.Inf(1)
	count := 0
	var walk func(opt, slot int, set []batchStart)
	walk = func(opt, slot int, set []batchStart) {
		if count++; count > most {
			return
		}
		var starts []Start
		for _, b := range set {
			o := &p.opts[b.opt]
			starts = append(starts, Start{Brewer: in.Brewers[o.brewer].Name, Beverage: in.Beverages[o.bev].Name, StartSlot: b.slot})
		}
		if handsBroken(in, starts) != nil {
			return // more starts need more
		}
		best = min(best, fullProgram(p, set))
		for ; opt < len(p.opts); opt, slot = opt+1, 0 {
			for ; slot < p.slots; slot++ {
				if s.canPlace(set, opt, slot, -1) {
					walk(opt, slot+1, append(set, batchStart{opt: opt, slot: slot}))
				}
			}
		}
	}
	walk(0, 0, nil)
	return best, count <= most
}

func TestSolveWithHandsAndBathsAgreesWithExhaustiveSearch(t *testing.T) {
	t.Parallel()
	want := 400
	if raceSlows {
		want = 60
	}
	rng := rand.New(rand.NewPCG(11, 13))
	done, reached, bound := 0, 0, 0
	for tries := 0; done < want; tries++ {
		in := tiny(rng)
		limitHands(rng, in)
		if in.Validate() != nil {
			continue
		}
		best, ok := exhaustiveOfHands(in, 400)
		if !ok {
			continue
		}
		done++
		r, err := Solve(context.Background(), in, Options{Seed: uint64(done), Budget: 40_000})
		require.NoError(t, err)
		require.NoError(t, verify(in, r), "instance %d", tries)
		require.NoError(t, handsBroken(in, r.Starts), "instance %d", tries)
		tol := 1e-6 * max(1, math.Abs(best))
		require.GreaterOrEqual(t, r.Objective, best-tol, "instance %d: cheaper than the optimum", tries)
		require.LessOrEqual(t, r.LowerBound, best+tol, "instance %d: the bound is above the optimum", tries)
		if r.Objective <= best+0.0006*max(1, math.Abs(best)) {
			reached++
		}
		free := *in
		free.WorkMin, free.Baths = nil, nil
		if f, err := Solve(context.Background(), &free, Options{Seed: uint64(done), Budget: 40_000}); err == nil && handsBroken(in, f.Starts) != nil {
			bound++
		}
	}
	t.Logf("%d of %d at the optimum; hands or baths bind in %d", reached, done, bound)
	require.GreaterOrEqual(t, reached, done*99/100)
	require.Greater(t, bound, done/10, "instances in which hands and baths hardly matter prove nothing")
}

func TestNoPlanExceedsHandsOrBaths(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in := drawInstance(t)
		limitHands(rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "hands"), 3)), in)
		warm := []Start{}
		for _, br := range in.Brewers {
			for _, o := range br.Options {
				for s := 0; s < in.Slots; s += 2 {
					warm = append(warm, Start{Brewer: br.Name, Beverage: o.Beverage, StartSlot: s, G: o.MaxG})
				}
			}
		}
		r := mustSolve(t, in, Options{Budget: 6000, Warm: warm, Stay: 0.02})
		require.NoError(t, handsBroken(in, r.Starts))
		assert.Equal(t, Enough, in.ShortOf(r.Starts))
		nothing, err := Evaluate(in, nil)
		require.NoError(t, err)
		assert.LessOrEqual(t, r.Objective, nothing.Objective+tolerance(nothing))
	})
}

func TestALongHorizonKeepsToHandsAndBaths(t *testing.T) {
	t.Parallel()
	rng := rand.New(rand.NewPCG(5, 5))
	in := cafe(rng, 56, 2, 2, true)
	two := *in // two days with a night between them
	two.Slots = 56 + 40 + 56
	two.Beverages = append([]Beverage(nil), in.Beverages...)
	for i := range two.Beverages {
		d := in.Beverages[i].DemandG
		two.Beverages[i].DemandG = append(append(append([]float64{}, d...), make([]float64, 40)...), d...)
	}
	ice := *in.Ice
	ice.MakeG = append(append(append([]float64{}, in.Ice.MakeG...), make([]float64, 40)...), in.Ice.MakeG...)
	ice.ServeG = append(append(append([]float64{}, in.Ice.ServeG...), make([]float64, 40)...), in.Ice.ServeG...)
	two.Ice = &ice
	two.Brewers = append([]Brewer(nil), in.Brewers...)
	for w := 0; 2*w < two.Slots; w++ {
		two.WorkMin = append(two.WorkMin, 9)
	}
	for range two.Slots {
		two.Baths = append(two.Baths, 1)
	}
	for b := range two.Brewers {
		two.Brewers[b].Options = append([]Option(nil), in.Brewers[b].Options...)
		two.Brewers[b].Available = nil
		for k := range two.Brewers[b].Options {
			o := &two.Brewers[b].Options[k]
			o.BathFrom, o.BathTo = 1, 3
			for s := 0; s < two.Slots; s++ {
				uses := []WorkUse{{Window: s / 2, Min: 9}}
				if w := (s + 2) / 2; w < len(two.WorkMin) {
					uses = append(uses, WorkUse{Window: w, Min: 5})
				}
				o.Work = append(o.Work, uses)
			}
		}
	}
	require.NoError(t, two.Validate())
	r, err := Solve(context.Background(), &two, Options{Budget: 60_000})
	require.NoError(t, err)
	require.NotEmpty(t, r.Starts)
	require.NoError(t, verify(&two, r))
	require.NoError(t, handsBroken(&two, r.Starts))
}

func TestEvaluateNamesTheResourceThatIsExceeded(t *testing.T) {
	t.Parallel()
	in := &Instance{SlotMin: 15, Slots: 8, StartsPerSlot: 2, StoreG: 9000, WorkMin: []float64{9, 9, 9, 9}, Baths: []int{1, 1, 1, 1, 1, 1, 1, 1},
		Beverages: []Beverage{{Name: "b", DemandG: make([]float64, 8), HoldSlots: 4}}}
	work := make([][]WorkUse, 8)
	for t := range work {
		work[t] = []WorkUse{{Window: t / 2, Min: 5}}
	}
	for _, name := range []string{"left", "right"} {
		in.Brewers = append(in.Brewers, Brewer{Name: name, Options: []Option{{Beverage: "b", MaxG: 1000, BusySlots: 1, BathFrom: 0, BathTo: 2, Work: work}}})
	}
	at := func(left, right int) []Start {
		return []Start{{Brewer: "left", Beverage: "b", StartSlot: left, G: 10}, {Brewer: "right", Beverage: "b", StartSlot: right, G: 10}}
	}
	for _, c := range []struct {
		left, right int
		want        Short
	}{{0, 1, WorkShort}, {1, 2, BathsShort}, {0, 2, Enough}} {
		_, err := Evaluate(in, at(c.left, c.right))
		assert.Equal(t, c.want == Enough, err == nil, "%d and %d", c.left, c.right)
		assert.Equal(t, c.want, in.ShortOf(at(c.left, c.right)))
	}
	in.Baths = in.Baths[:3]
	require.Error(t, in.Validate())
}
