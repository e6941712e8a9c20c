package batch

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// findSolver returns the path of an external solver. Without it the test is skipped, loudly, or fails if HOTDAY_REQUIRE_TOOLS is
// set.
func findSolver(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
			t.Fatalf("%s is not installed and HOTDAY_REQUIRE_TOOLS is set (Debian: apt-get install coinor-cbc)", name)
		}
		t.Skipf("SKIPPED: %s is not installed, so the solver is not compared with another one (Debian: apt-get install coinor-cbc)", name)
	}
	return path
}

var (
	cbcObjective = regexp.MustCompile(`(?m)^Objective value:\s+(\S+)`)
	cbcBound     = regexp.MustCompile(`(?m)^Lower bound:\s+(\S+)`)
)

// cbc solves the instance with a time limit and returns the best objective and bound.
func cbc(t *testing.T, path string, in *Instance, seconds float64) (objective, bound float64) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "batches.mps")
	require.NoError(t, os.WriteFile(file, []byte(mipOf(in).mps()), 0o600))
	out, err := exec.Command(path, file, "sec", fmt.Sprint(seconds), "ratio", "0", "solve").CombinedOutput()
	require.NoError(t, err, "%s", out)
	read := func(re *regexp.Regexp, none float64) float64 {
		m := re.FindSubmatch(out)
		if m == nil {
			return none
		}
		x, err := strconv.ParseFloat(string(m[1]), 64)
		require.NoError(t, err)
		return x
	}
	objective = read(cbcObjective, math.Inf(1))
	bound = read(cbcBound, objective)
	return objective, bound
}

// openingOutlives reports whether opening stock expires after a batch made later. The relaxation is then weaker and its prices a
// poor guide, so only the bounds are compared with CBC's.
func openingOutlives(in *Instance) bool {
	for i := range in.Beverages {
		b := &in.Beverages[i]
		for _, o := range b.Opening {
			if o.ExpiresSlot > b.ReadySlots+b.HoldSlots {
				return true
			}
		}
	}
	return false
}

// On instances too large for exhaustive search CBC must not find a plan below the bound, prove a bound above the plan, or find a
// plan that is 0.5 % cheaper.
func TestSolveAgreesWithCBC(t *testing.T) {
	t.Parallel()
	path := findSolver(t, "cbc")
	const workers = 2
	instances := 210
	if raceSlows || testing.Short() {
		instances = 30
	}
	for w := 0; w < workers; w++ {
		t.Run(fmt.Sprintf("part %d", w), func(t *testing.T) {
			t.Parallel()
			rng := rand.New(rand.NewPCG(11, uint64(w)))
			proven := 0
			for n := 0; n < instances/workers; {
				in := medium(rng)
				if in.Validate() != nil {
					continue
				}
				n++
				r, err := Solve(context.Background(), in, Options{Seed: uint64(n)})
				require.NoError(t, err)
				require.NoError(t, verify(in, r), "instance %d", n)
				objective, bound := cbc(t, path, in, 0.7)
				tol := 1e-5 * max(1, math.Abs(objective))
				require.LessOrEqual(t, r.LowerBound, objective+tol, "instance %d: bound above a plan that CBC found", n)
				require.GreaterOrEqual(t, r.Objective, bound-tol, "instance %d: objective below CBC's bound", n)
				if !openingOutlives(in) && r.Objective > objective+0.005*max(1, math.Abs(objective)) {
					t.Errorf("instance %d: CBC found %g, not %g", n, objective, r.Objective)
				}
				if bound >= objective-tol {
					proven++
				}
			}
			t.Logf("CBC proved its plan optimal in %d of %d", proven, instances/workers)
			require.Greater(t, proven, instances/workers/2)
		})
	}
}
