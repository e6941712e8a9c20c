package batch

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hardFamily is a kind of instance on which the search or the bound is weak.
type hardFamily struct {
	name string
	draw func(rng *rand.Rand) *Instance
}

// hardFamilies are days of cafe, made hard in one respect each, and in all at once.
var hardFamilies = []hardFamily{
	{"6x8", func(rng *rand.Rand) *Instance { return shared(cafe(rng, 56, 6, 8, false)) }},
	{"6x8-ice", func(rng *rand.Rand) *Instance { return shared(cafe(rng, 56, 6, 8, true)) }},
	{"2x3-store", func(rng *rand.Rand) *Instance { return smallStore(rng, cafe(rng, 96, 2, 3, false)) }},
	{"3x4-store", func(rng *rand.Rand) *Instance { return smallStore(rng, cafe(rng, 96, 3, 4, false)) }},
	{"small-bin", func(rng *rand.Rand) *Instance { return smallBin(shared(cafe(rng, 96, 3, 4, true))) }},
	{"long-busy", func(rng *rand.Rand) *Instance { return longBusy(rng, cafe(rng, 56, 3, 6, false)) }},
	{"all", func(rng *rand.Rand) *Instance {
		return smallStore(rng, smallBin(longBusy(rng, cafe(rng, 72, 3, 4, true))))
	}},
}

// hardSeeds is the number of instances of each family.
const hardSeeds = 3

// shared has hands for two starts in a slot, which many brewers then share, and a store of 8 kg.
func shared(in *Instance) *Instance {
	in.StartsPerSlot, in.StoreG = 2, 8000
	return in
}

// smallStore leaves 3 to 4 kg for all beverages.
func smallStore(rng *rand.Rand, in *Instance) *Instance {
	in.StoreG = between(rng, 3000, 4000)
	for i := range in.Beverages {
		for k := range in.Beverages[i].Opening {
			in.Beverages[i].Opening[k].G /= 4
		}
	}
	return in
}

// smallBin leaves a third of the bin.
func smallBin(in *Instance) *Instance {
	in.Ice.CapacityG, in.Ice.OpeningG = math.Round(in.Ice.CapacityG/3), math.Round(in.Ice.OpeningG/3)
	return in
}

// longBusy keeps brewers busy for one to two hours.
func longBusy(rng *rand.Rand, in *Instance) *Instance {
	for b := range in.Brewers {
		for k := range in.Brewers[b].Options {
			in.Brewers[b].Options[k].BusySlots = 4 + rng.IntN(5)
		}
	}
	return in
}

func (f *hardFamily) instance(seed int) *Instance {
	return f.draw(rand.New(rand.NewPCG(uint64(seed), 14)))
}

// hardBest is the file of the best known costs and bounds of the hard instances.
var hardBest = filepath.Join(referenceDir, "hard", "README.md")

// known is the best known of an instance.
type known struct {
	objective, bound float64
}

func readHardBest(t testing.TB) map[string]known {
	t.Helper()
	out := map[string]known{}
	for _, r := range referencesIn(t, filepath.Dir(hardBest)) {
		out[r.name] = known{r.objective, r.bound}
	}
	return out
}

const hardHead = `# Hard batch instances

Drawn by ` + "`hardFamilies` of `planner/batch/hard_test.go`" + ` from the seed at the end of the name; only the best known is kept here: the cheapest plan and
the highest bound that 40 times the everyday budget found over all runs so far; with HOTDAY_HARD_CBC=1 CBC looks for two minutes, too.

    HOTDAY_HARD=1 go test ./planner/batch -run HardInstances -v              measures the everyday budget against it
    HOTDAY_HARD=best go test ./planner/batch -run HardInstances -v -timeout 5h     looks for better ones and writes this file

| instance | best objective found | best bound |
|---|---|---|
`

func writeHardBest(t *testing.T, best map[string]known) {
	t.Helper()
	var w strings.Builder
	w.WriteString(hardHead)
	for _, f := range hardFamilies {
		for seed := 1; seed <= hardSeeds; seed++ {
			name := fmt.Sprintf("%s-%d", f.name, seed)
			if k, is := best[name]; is {
				fmt.Fprintf(&w, "| %s | %.4f | %.4f |\n", name, k.objective, k.bound)
			}
		}
	}
	require.NoError(t, os.WriteFile(hardBest, []byte(w.String()), 0o600))
}

// processorTime is the processor time that this process has used.
func processorTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// TestHardInstances measures the search on instances like those on which it was weak: what the everyday budget costs above the best
// known, the proven gap, work and processor time. It is run by hand, as the head of the kept table says; HOTDAY_HARD_ONLY names the
// families wanted, HOTDAY_HARD_BUDGET another budget and HOTDAY_HARD_RESERVE a
// reserve.
func TestHardInstances(t *testing.T) {
	mode := os.Getenv("HOTDAY_HARD")
	if mode == "" {
		t.Skip("SKIPPED: a measurement of some minutes; HOTDAY_HARD=1 runs it")
	}
	best := readHardBest(t)
	budget := DefaultBudget
	if s := os.Getenv("HOTDAY_HARD_BUDGET"); s != "" {
		n, err := strconv.Atoi(s)
		require.NoError(t, err)
		budget = n
	}
	reserve := 0
	if s := os.Getenv("HOTDAY_HARD_RESERVE"); s != "" {
		n, err := strconv.Atoi(s)
		require.NoError(t, err)
		reserve = n
	}
	only := strings.Fields(os.Getenv("HOTDAY_HARD_ONLY"))
	var all []measured
	for _, f := range hardFamilies {
		if len(only) > 0 && !slices.Contains(only, f.name) {
			continue
		}
		var rows []measured
		for seed := 1; seed <= hardSeeds; seed++ {
			name, in := fmt.Sprintf("%s-%d", f.name, seed), f.instance(seed)
			require.NoError(t, in.Validate(), name)
			if mode == "best" {
				improveKnown(t, name, in, best)
				writeHardBest(t, best)
				continue
			}
			from := processorTime()
			r, err := Solve(context.Background(), in, Options{Seed: 1, Budget: budget, Reserve: reserve})
			m := measured{took: processorTime() - from, gap: r.GapPct, work: float64(r.work)}
			require.NoError(t, err)
			require.NoError(t, verify(in, r), name)
			k, is := best[name]
			if !is {
				k = known{objective: r.Objective}
			}
			m.excess = 100 * (r.Objective/k.objective - 1)
			assert.LessOrEqual(t, r.LowerBound, k.objective+1e-3, "%s: a plan below the bound", name)
			t.Logf("%-12s cost %9.3f  best known %9.3f  %+6.2f %%  gap %6.2f %%  (best bound %9.3f)  work %7.0f  %5d ms", name, r.Objective, k.objective,
				m.excess, m.gap, k.bound, m.work, m.took.Milliseconds())
			rows = append(rows, m)
		}
		if len(rows) > 0 {
			t.Logf("%-12s %s", f.name, mean(rows))
		}
		all = append(all, rows...)
	}
	if len(all) > 0 {
		t.Logf("%-12s %s", "mean", mean(all))
	}
}

// On three of the hard instances the search once cost 7 to 17 % more than the best known, with gaps of 7 to 24 %: without ruin and
// recreate, or with prices that do not converge, it does so again.
func TestHardInstancesStaySolved(t *testing.T) {
	t.Parallel()
	best := readHardBest(t)
	for _, c := range []struct {
		family string
		seed   int
		gap    float64 // most, %
	}{{"6x8", 2, 9}, {"2x3-store", 3, 18}, {"long-busy", 2, 5}} {
		for _, f := range hardFamilies {
			if f.name != c.family {
				continue
			}
			in, name := f.instance(c.seed), fmt.Sprintf("%s-%d", c.family, c.seed)
			r, err := Solve(context.Background(), in, Options{Seed: 1})
			require.NoError(t, err)
			require.NoError(t, verify(in, r), name)
			require.Contains(t, best, name)
			t.Logf("%-12s objective %.3f, %+.2f %%, gap %.2f %%", name, r.Objective, 100*(r.Objective/best[name].objective-1), r.GapPct)
			assert.LessOrEqual(t, r.Objective, 1.05*best[name].objective, name)
			assert.LessOrEqual(t, r.LowerBound, best[name].objective+1e-3, "%s: a plan below the bound", name)
			assert.LessOrEqual(t, r.GapPct, c.gap, name)
		}
	}
}

// measured are the figures of one instance.
type measured struct {
	excess, gap, work float64
	took              time.Duration
}

// mean words the mean, and the worst, of the figures.
func mean(rows []measured) string {
	var sum measured
	for _, m := range rows {
		sum.excess, sum.gap, sum.work, sum.took = sum.excess+m.excess, sum.gap+m.gap, sum.work+m.work, sum.took+m.took
	}
	n := float64(len(rows))
	worst := slices.MaxFunc(rows, func(a, b measured) int { return cmp.Compare(a.excess, b.excess) })
	gap := slices.MaxFunc(rows, func(a, b measured) int { return cmp.Compare(a.gap, b.gap) })
	return fmt.Sprintf("= mean %+.2f %% (worst %+.2f %%), gap %.2f %% (worst %.2f %%), work %.0f, %d ms", sum.excess/n, worst.excess, sum.gap/n, gap.gap,
		sum.work/n, sum.took.Milliseconds()/int64(len(rows)))
}

// improveKnown looks for a better plan and bound with 40 times the budget, from two seeds and from the best known, and with CBC.
func improveKnown(t *testing.T, name string, in *Instance, best map[string]known) {
	t.Helper()
	k, is := best[name]
	if !is {
		k = known{objective: math.Inf(1), bound: math.Inf(-1)}
	}
	for seed := uint64(11); seed < 13; seed++ {
		r, err := Solve(context.Background(), in, Options{Seed: seed, Budget: 40 * DefaultBudget})
		require.NoError(t, err)
		require.NoError(t, verify(in, r), name)
		t.Logf("%-12s seed %d: %.4f, bound %.4f", name, seed, r.Objective, r.LowerBound)
		k.objective, k.bound = min(k.objective, r.Objective), max(k.bound, r.LowerBound)
	}
	if os.Getenv("HOTDAY_HARD_CBC") != "" {
		c, b := cbc(t, findSolver(t, "cbc"), in, 120)
		t.Logf("%-12s CBC: %.4f, bound %.4f", name, c, b)
		k.objective, k.bound = min(k.objective, c), max(k.bound, b)
	}
	best[name] = k
}
