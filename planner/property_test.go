package planner

import (
	"context"
	"encoding/json"
	"flag"
	"os"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hotday/models"
)

// requests is how many random requests the property test plans.
var requests = flag.Int("requests", 1000, "random requests that the property test plans")

// Every plan is allowed by its request, balances, has no number that is none, and comes out the same again.
func TestPlansOfRandomRequestsAreFeasibleAndBalanced(t *testing.T) {
	t.Parallel()
	check := func(t *rapid.T) {
		r := anyRequest(t)
		require.NoError(t, r.Validate())
		o := Options{WithoutWaysOut: true, Budget: 3000, Days: 40}
		p, err := ComputeWith(context.Background(), r, o)
		require.NoError(t, err)
		_, err = json.Marshal(p)
		require.NoError(t, err, "a number in the plan is none")
		if found := broken(&r, &p); len(found) > 0 {
			if f := os.Getenv("BROKEN_OUT"); f != "" {
				data, _ := json.MarshalIndent(r, "", " ")
				_ = os.WriteFile(f, data, 0o600)
			}
			t.Fatalf("%d rules broken, first: %s", len(found), found[0])
		}
	}
	require.NoError(t, flag.Set("rapid.checks", "100")) // the flag of the library counts for every property of the package
	for range max(1, *requests/100) {
		rapid.Check(t, check)
	}
}

// The same request gives the same plan to the last byte, on one core and on two, ways out included.
func TestSameRequestSameBytes(t *testing.T) {
	was := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(was)
	bytesOf := func(t require.TestingT, r models.PlanRequest, cores int, o Options) string {
		runtime.GOMAXPROCS(cores)
		p, err := ComputeWith(context.Background(), r, o)
		require.NoError(t, err)
		data, err := json.Marshal(p)
		require.NoError(t, err)
		return string(data)
	}
	rapid.Check(t, func(t *rapid.T) {
		r := anyRequest(t)
		o := Options{Budget: 2000, Days: 30, WithoutWaysOut: rapid.IntRange(0, 3).Draw(t, "without") > 0}
		one := bytesOf(t, r, 1, o)
		require.Equal(t, one, bytesOf(t, r, 2, o))
	})
}
