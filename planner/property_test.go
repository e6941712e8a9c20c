package planner

import (
	"context"
	"encoding/json"
	"flag"
	"os"
	"runtime"
	"testing"
	"time"

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
		o := Options{WithoutFixes: true, Budget: 3000, Days: 40}
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
	for k := range max(1, *requests/100) { // a hundred at a time, as every property of the package
		rapid.Check(t, func(t *rapid.T) {
			for range k { // another hundred of the same seed
				rapid.Int().Draw(t, "skip")
			}
			check(t)
		})
	}
}

// The same request gives the same plan to the last byte, on one core and on two, fixes included.
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
		o := Options{Budget: 2000, Days: 30, WithoutFixes: rapid.IntRange(0, 3).Draw(t, "without") > 0}
		one := bytesOf(t, r, 1, o)
		require.Equal(t, one, bytesOf(t, r, 2, o))
	})
}

// A full shop in many moods: the weekend with its demand, equipment, stores and clock changed.
func TestTheWeekendInManyMoodsIsFeasible(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	rapid.Check(t, func(t *rapid.T) {
		r := requestFrom(t, "weekend.json")
		changeMood(t, &r)
		require.NoError(t, r.Validate())
		p, err := ComputeWith(context.Background(), r, Options{WithoutFixes: true, Budget: 12_000, Days: 40})
		require.NoError(t, err)
		require.Empty(t, broken(&r, &p))
	})
}

func changeMood(t *rapid.T, r *models.PlanRequest) {
	scale := oneOf(t, "scale", 1.0, 0.4, 1.6, 0.1)
	for i := range r.Demand {
		d := &r.Demand[i]
		d.Expected *= scale
		if d.P10 != nil {
			*d.P10 *= scale
			*d.P90 *= scale
		}
	}
	r.Site.SlotMin = oneOf(t, "slot", 15, 30, 20)
	r.Site.StartsPerSlot = oneOf(t, "starts", 1, 2)
	r.Site.StoreG *= oneOf(t, "store", 1.0, 0.5, 0.25, 0.05)
	r.Ice.BinG *= oneOf(t, "bin", 1.0, 0.5, 0.1)
	r.Ice.OpeningG *= oneOf(t, "ice", 1.0, 0.3, 0)
	r.Water.MakeLPerH *= oneOf(t, "water", 1.0, 0.3)
	r.Ice.Makers[0].KgPerDayRated *= oneOf(t, "maker", 1.0, 0.3)
	for i := range r.Beverages {
		r.Beverages[i].HoldH *= oneOf(t, "hold", 1.0, 0.3)
		ua := oneOf(t, "ua", 28.0, 4, 100)
		r.Beverages[i].CoolingUAWPerK = &ua
	}
	r.Now = r.Now.Add(time.Duration(rapid.IntRange(0, 40*60).Draw(t, "minutes on")) * time.Minute)
	for i := range r.Stock {
		r.Stock[i].MadeAt = r.Now.Add(-time.Duration(rapid.IntRange(0, 20).Draw(t, "age")) * time.Hour)
	}
	if chance(t, "under way", 2) {
		anyUnderWay(t, r)
	}
	if chance(t, "brewer span", 3) {
		r.Brewers[0].Available = []models.ClockSpan{{From: "06:00", To: "12:00"}, {From: "13:30", To: "19:10"}}
	}
}
