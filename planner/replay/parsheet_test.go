package replay

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The plan, replanned every two hours, costs less than the par sheet with the cushion that is best over all the weekends, and pours less
// away and misses fewer drinks than the usual one. HOTDAY_WEEKENDS is the number of weekends; -update keeps the table in
// testdata/weekends.txt.
func TestThePlanBeatsTheParSheetOnInventedWeekends(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	const few = 3
	n := weekendCount(t, few)
	compared := []Policy{{Method: Plan}, {Method: Replanned}, {Method: Par}}
	if n > few {
		compared = append(compared, Policy{Method: NoChoices})
		for _, c := range Cushions {
			if c != 1 {
				compared = append(compared, Policy{Method: Par, Setting: c})
			}
		}
	}
	const plan, replanned, usual = 0, 1, 2 // of compared
	sum, worse := make([]Figures, len(compared)), make([]Figures, len(compared))
	o := Options{Budget: 20_000, Simulated: 100, Replan: true, IcePerKg: baggedIcePerKg}
	for seed := range n {
		w := randomWeekend(t, uint64(seed))
		f := make([]Figures, len(compared))
		for k, p := range compared {
			f[k] = w.simulate(t, &o, p)
			sum[k].add(&f[k])
		}
		for k := range compared {
			if f[k].Cost() > f[usual].Cost() {
				worse[k].BatchCost++
			}
			if f[k].PouredG > f[usual].PouredG {
				worse[k].PouredG++
			}
			if f[k].Missed > f[usual].Missed {
				worse[k].Missed++
			}
			if f[k].IceShortH > f[usual].IceShortH {
				worse[k].IceShortH++
			}
		}
		if n > few && seed%20 == 19 {
			t.Logf("%d weekends\n%s", seed+1, weekendsTable(seed+1, compared, sum, worse))
		}
	}
	table := weekendsTable(n, compared, sum, worse)
	t.Log("\n" + table)
	best := usual
	for k := range compared {
		if compared[k].Method == Par && sum[k].Cost() < sum[best].Cost() {
			best = k
		}
	}
	require.Less(t, sum[replanned].Cost(), sum[best].Cost())
	if n > few {
		require.Less(t, sum[plan].Cost(), sum[usual].Cost())
		require.Less(t, sum[replanned].PouredG, sum[usual].PouredG)
		require.Less(t, sum[replanned].Missed, sum[usual].Missed)
		require.LessOrEqual(t, sum[replanned].IceShortH, sum[usual].IceShortH)
		if *update {
			require.NoError(t, os.WriteFile("testdata/weekends.txt", []byte(table), 0o644))
		}
	}
}

// baggedIcePerKg is the price of ice that is bought, minor units: a guess.
const baggedIcePerKg = 200

func weekendsTable(n int, compared []Policy, sum, worse []Figures) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d invented weekends, %.0f drinks asked for; in brackets the number of weekends on which it is worse than the par sheet\n", n, sum[0].Demand)
	fmt.Fprintf(&b, "%-16s %18s %18s %18s %18s %10s\n", "", "cost EUR", "poured away kg", "drinks missed", "ice short h", "ice bought kg")
	for k, p := range compared {
		f, w := &sum[k], &worse[k]
		cell := func(x, worse float64) string { return fmt.Sprintf("%.1f (%.0f)", x, worse) }
		fmt.Fprintf(&b, "%-16s %18s %18s %18s %18s %10.1f\n", p, cell(f.Cost()/100, w.BatchCost), cell(f.PouredG/1000, w.PouredG), cell(f.Missed, w.Missed), cell(f.IceShortH, w.IceShortH), f.BoughtIceG/1000)
	}
	return b.String()
}
