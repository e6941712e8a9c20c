package replay

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hotday/models"
	"hotday/planner"
)

// outcome is the stated chance of a warning, and how often the shortage occurred in several runs of its plan.
type outcome struct {
	chance          float64
	runs, shortages int
}

// runsPerPlan is the number of runs of each plan, each with its own demand, weather, ice output and ice count.
const runsPerPlan = 10

// runPlan plans the weekend on Friday evening, simulates the plan runsPerPlan times, and returns the outcome of each shortage
// warning.
func (w *weekend) runPlan(t testing.TB, o *Options) []outcome {
	t.Helper()
	return w.runPlanOf(t, o, &w.season.Setup, w.shortageWarnings)
}

// runPlanOf is runPlan for the plan of a set-up that differs from the shop, such as one that states what its ice machine made when it was
// new. watch selects what is compared of a plan.
func (w *weekend) runPlanOf(t testing.TB, o *Options, stated *models.Setup, watch func(testing.TB, *models.Plan) []shortageWarning) []outcome {
	t.Helper()
	s := &w.season
	r, err := w.newReplay(o).newRun(Policy{Method: Plan})
	require.NoError(t, err)
	from, to := s.planTime(saturday), s.planTime(saturday+2)
	planned := *s
	planned.Setup = *stated
	req := planned.request(&kitchen{ice: s.Ice.OpeningG}, from, s.dayBefore(saturday), s.Days[saturday:])
	s.addForecast(&req, w.rows, s.Days[saturday:], w.forecasts)
	p, err := planner.ComputeWith(context.Background(), req, planner.Options{WithoutFixes: true, Budget: o.Budget, Days: o.simulated()})
	require.NoError(t, err)
	warnings := watch(t, &p)
	out := make([]outcome, len(warnings))
	for run := range runsPerPlan {
		w.redraw(run)
		r.kitchen = kitchen{ice: math.Min(s.Ice.BinG, s.Ice.OpeningG*w.count)}
		sim := r.newSimulation(saturday, make([]float64, len(w.rows)), from, to)
		sim.iceOutput = s.iceOutput(s.Days[friday:], from, sim.slot, sim.n)
		for i := range sim.iceOutput {
			sim.iceOutput[i] *= w.output[w.dayAt(from.Add(time.Duration(i)*sim.slot))]
		}
		for k := range 2 {
			w.placeCustomers(saturday+k, from, sim.slot, sim.demand)
		}
		sh := s.sheetOf(&p, req.Now, to)
		w.pourOut(&sh, stated)
		sim.follow(&sh)
		var short [2][]float64
		for k, end := range []int{int(s.planTime(saturday+1).Sub(from) / sim.slot), sim.n} {
			sim.shortfall = make([]float64, len(s.Beverages)+1)
			sim.runTo(end)
			short[k] = sim.shortfall
		}
		for i, x := range warnings {
			out[i].chance = x.chance
			out[i].runs++
			if short[x.day][x.item] >= sim.smallestUse(x.item)/2 {
				out[i].shortages++
			}
		}
	}
	return out
}

// shortageWarning is a warning of a shortage on a day of the weekend: of a beverage, or of ice, the item after the beverages.
type shortageWarning struct {
	chance    float64
	item, day int
}

func (w *weekend) shortageWarnings(t testing.TB, p *models.Plan) []shortageWarning {
	t.Helper()
	var out []shortageWarning
	for _, x := range p.Warnings {
		item := len(w.season.Beverages)
		switch {
		case x.Kind == models.WarnBeverageShort:
			item = slices.IndexFunc(w.season.Beverages, func(b models.Beverage) bool { return strings.Contains(x.Cause, "run out of "+b.Name+", ") })
			require.GreaterOrEqual(t, item, 0, x.Cause)
		case x.Kind != models.WarnIceShort || slices.Contains(x.Fields, "ice.plain"):
			continue
		}
		out = append(out, shortageWarning{x.ChancePct / 100, item, w.dayAt(x.At)})
	}
	return out
}

// smallestUse is the smallest amount of an item in a serving.
func (sim *simulation) smallestUse(item int) float64 {
	least := math.Inf(1)
	for d := range sim.s.Drinks {
		sim.eachUse(d, func(k int, g float64) {
			if k == item {
				least = min(least, g)
			}
		})
	}
	return least
}

// band is the warnings with about the same stated chance.
type band struct {
	warnings, runs, shortages int
	sumChance                 float64 // stated chance, summed over runs
}

func (b *band) add(c *outcome) {
	b.warnings++
	b.runs += c.runs
	b.shortages += c.shortages
	b.sumChance += c.chance * float64(c.runs)
}

func (b *band) mean() float64  { return b.sumChance / math.Max(1, float64(b.runs)) }
func (b *band) share() float64 { return float64(b.shortages) / math.Max(1, float64(b.runs)) }

// Of the warnings with a stated chance of 20 to 40 %, and of those with 60 to 80 %, the share that came true is their mean chance
// within five points. Plans of invented shops are simulated with the uncertainty that their forecasts state. HOTDAY_WEEKENDS=5000
// plans enough weekends for a thousand warnings in each band (half an hour); with -update it draws testdata/warnings.svg.
func TestWarningsOfWholePlansAreCalibrated(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	const few = 24
	n := weekendCount(t, few)
	tenths := make([]band, 10)
	for seed := range n {
		w := randomWeekend(t, uint64(seed))
		for _, c := range w.runPlan(t, &Options{Budget: 20_000, Simulated: 300}) {
			tenths[min(9, int(c.chance*10))].add(&c)
		}
		if n > few && seed%100 == 99 {
			t.Logf("%d weekends: %v", seed+1, tenths)
		}
	}
	for i, b := range tenths {
		t.Logf("%3d to %3d %%: %5d warnings, %6d runs; stated %5.1f %%, came true %5.1f %%", 10*i, 10*i+10, b.warnings, b.runs, 100*b.mean(), 100*b.share())
	}
	for _, lo := range []int{2, 6} {
		b := tenths[lo]
		b.warnings, b.runs, b.shortages, b.sumChance = b.warnings+tenths[lo+1].warnings, b.runs+tenths[lo+1].runs, b.shortages+tenths[lo+1].shortages, b.sumChance+tenths[lo+1].sumChance
		t.Logf("%d to %d %%: %d warnings of %d plans, %d runs: stated %.1f %%, came true %.1f %%", 10*lo, 10*lo+20, b.warnings, n, b.runs, 100*b.mean(), 100*b.share())
		require.Positive(t, b.runs)
		within := 0.05
		if n <= few { // a handful of warnings, each with a sampling error
			within += 3 * 0.5 / math.Sqrt(float64(b.warnings))
		}
		require.InDelta(t, b.mean(), b.share(), within, "%d to %d %%", 10*lo, 10*lo+20)
	}
	if *update && n > few {
		require.NoError(t, os.WriteFile("testdata/warnings.svg", []byte(calibrationChart(tenths, n)), 0o644))
	}
}

// calibrationChart draws how often warnings came true against their stated chance, with two standard errors either way.
func calibrationChart(tenths []band, weekends int) string {
	const left, top, size = 90.0, 90.0, 420.0
	x := func(p float64) float64 { return left + size*p }
	y := func(p float64) float64 { return top + size*(1-p) }
	var b strings.Builder
	put := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	put(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 600 600" role="img" aria-labelledby="t"><title id="t">Stated chances of warnings and how often they came true</title>`)
	put(`<style>%s</style><rect width="600" height="600" style="fill:var(--paper)"/>`, chartStyle)
	put(`<text x="%g" y="34" class="head">How often warnings came true</text>`, left)
	put(`<text x="%g" y="56" class="soft">%d invented weekends, each plan simulated %d times; bars: two standard errors</text>`, left, weekends, runsPerPlan)
	for i := 0; i <= 10; i += 2 {
		p := float64(i) / 10
		put(`<path class="hair" d="M%.1f %.1fH%.1f"/><text x="%.1f" y="%.1f" class="soft" text-anchor="end">%d %%</text>`, x(0), y(p), x(1), x(0)-8, y(p)+4, 10*i)
		put(`<text x="%.1f" y="%.1f" class="soft" text-anchor="middle">%d %%</text>`, x(p), y(0)+20, 10*i)
	}
	put(`<path class="between" d="M%.1f %.1fL%.1f %.1fH%.1fV%.1fL%.1f %.1fH%.1fZ"/>`, x(0), y(.05), x(.95), y(1), x(1), y(.95), x(.05), y(0), x(0))
	put(`<path class="zero" d="M%.1f %.1fL%.1f %.1f"/>`, x(0), y(0), x(1), y(1))
	for i := range tenths {
		d := &tenths[i]
		if d.runs == 0 {
			continue
		}
		se := 2 * math.Sqrt(d.share()*(1-d.share())/float64(d.runs))
		put(`<path class="plan" style="stroke-width:1.6" d="M%.1f %.1fV%.1f"/><circle cx="%.1f" cy="%.1f" r="5" style="fill:var(--water)"/>`, x(d.mean()), y(math.Max(0, d.share()-se)), y(math.Min(1, d.share()+se)), x(d.mean()), y(d.share()))
		put(`<text x="%.1f" y="%.1f" class="soft">%d</text>`, x(d.mean())+9, y(d.share())+16, d.warnings)
	}
	put(`<text x="%.1f" y="%.1f" text-anchor="middle">stated chance</text><text x="30" y="%.1f" text-anchor="middle" transform="rotate(-90 30 %.1f)">came true</text></svg>`, x(.5), y(0)+46, y(.5), y(.5))
	return b.String()
}
