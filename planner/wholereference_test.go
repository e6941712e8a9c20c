package planner

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hotday/planner/batch"
	"hotday/planner/demand"
	"hotday/planner/margin"
	"hotday/planner/risk"
)

// program is a mixed-integer program, solved by HiGHS with testdata/reference/milp.py.
type program struct {
	C      []float64 `json:"c"`
	Lower  []float64 `json:"lower"`
	Upper  []float64 `json:"upper"`
	Whole  []int     `json:"whole"`
	Row    []int     `json:"row"`
	Column []int     `json:"column"`
	Value  []float64 `json:"value"`
	Least  []float64 `json:"least"`
	Most   []float64 `json:"most"`
}

const unlimited = 1e30

func (p *program) variable(cost, lower, upper float64, whole int) int {
	p.C, p.Lower, p.Upper, p.Whole = append(p.C, cost), append(p.Lower, lower), append(p.Upper, upper), append(p.Whole, whole)
	return len(p.C) - 1
}

// terms is a linear expression: coefficients by variable.
type terms map[int]float64

func (p *program) add(x terms, least, most float64) {
	keys := make([]int, 0, len(x))
	for j := range x {
		keys = append(keys, j)
	}
	slices.Sort(keys)
	for _, j := range keys {
		if x[j] != 0 {
			p.Row, p.Column, p.Value = append(p.Row, len(p.Least)), append(p.Column, j), append(p.Value, x[j])
		}
	}
	p.Least, p.Most = append(p.Least, least), append(p.Most, most)
}

// solveProgram returns the best solution that HiGHS finds in the time given. Without SciPy the test is skipped.
func solveProgram(t *testing.T, p *program, seconds float64) []float64 {
	t.Helper()
	const python = "/usr/bin/python3" // Debian's own, for which python3-scipy is installed
	if err := exec.Command(python, "-c", "from scipy.optimize import milp").Run(); err != nil {
		if os.Getenv("HOTDAY_REQUIRE_TOOLS") == "1" {
			t.Fatalf("SciPy is not installed and HOTDAY_REQUIRE_TOOLS is set (Debian: apt-get install python3-scipy): %v", err)
		}
		t.Skipf("SKIPPED: SciPy, which brings HiGHS, is not installed, so no references are computed (Debian: apt-get install python3-scipy): %v", err)
	}
	data, err := json.Marshal(p)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "program.json")
	require.NoError(t, os.WriteFile(file, data, 0o600))
	out, err := exec.Command(python, "../testdata/reference/milp.py", file, fmt.Sprint(seconds)).Output()
	require.NoError(t, err)
	var found struct {
		X                []float64
		Objective, Bound float64
	}
	require.NoError(t, json.Unmarshal(out, &found))
	require.NotEmpty(t, found.X, "HiGHS found nothing in time")
	t.Logf("HiGHS: %.0f, bound %.0f", found.Objective, found.Bound)
	return found.X
}

// scenario is a day as it may turn out.
type scenario struct {
	asked   [][]float64 // servings by drink and slot
	opening float64     // ice, g
	make    []float64   // ice, g by slot
}

// scenariosOf draws days by the model of the simulation, whose code and random numbers it does not use. The request must be of one day.
func scenariosOf(bp *brewPlan, n int, seed uint64) []scenario {
	a := risk.DefaultAssumptions()
	draw := demand.NewScores(int64(seed), n)
	scores := func(key string) []float64 {
		out := make([]float64, n)
		draw.Draw("reference|"+key, out)
		return out
	}
	level, temp, count := scores("level"), scores("temperature"), scores("count")
	ahead := bp.riskDays()[0].AheadDays
	out := make([]scenario, n)
	for s := range out {
		out[s] = scenario{asked: make([][]float64, len(bp.req.Drinks)), opening: bp.drink.opening, make: make([]float64, bp.h.n)}
		for d := range out[s].asked {
			out[s].asked[d] = make([]float64, bp.h.n)
		}
		sd := math.Sqrt(math.Log1p(math.Pow(a.CountSDAt(bp.countAgeH()), 2)))
		out[s].opening = min(bp.drink.capacity, bp.drink.opening*math.Exp(sd*count[s]-sd*sd/2))
		level[s] = math.Sqrt(a.WeatherShare)*temp[s] + math.Sqrt(1-a.WeatherShare)*level[s]
	}
	for _, m := range bp.drink.makers {
		own := scores("maker|" + m.code)
		sd := math.Sqrt(math.Log1p(a.OutputSD * a.OutputSD))
		for s := range out {
			f := math.Exp(sd*own[s]-sd*sd/2) * max(0, 1+bp.outputPerC(m.row)*a.TempSDAt(ahead)*temp[s])
			for t, g := range m.g {
				out[s].make[t] += f * g
			}
		}
	}
	rng := rand.New(rand.NewPCG(seed, 5))
	for i, row := range bp.needs.paths {
		own, servings := scores(row.Key), make([]float64, n)
		a.Correlation.Servings(row.Range.Table(), level, own, servings)
		for s := range out {
			asked := out[s].asked[bp.needs.rows[i].drink]
			for range int(math.Floor(servings[s] + rng.Float64())) {
				u := rng.Float64()
				for k, share := range row.Share {
					if u -= share; u < 0 {
						asked[row.Slot+k]++
						break
					}
				}
			}
		}
	}
	return out
}

// sampleAverage is the two-stage program over whole drinks: the batches are decided once, and in each scenario drinks are sold as the
// beverage's lots and the ice allow.
type sampleAverage struct {
	program
	bp       *brewPlan
	starts   []saaStart
	perDrink [][]float64 // g by drink and beverage
}

type saaStart struct {
	option, slot int
	x, q         int
}

func (bp *brewPlan) sampleAverage(days []scenario) *sampleAverage {
	m := &sampleAverage{bp: bp}
	n, r := bp.h.n, bp.req
	busy, people, baths, work := map[[2]int]terms{}, map[int]terms{}, map[int]terms{}, map[int]terms{}
	put := func(at terms, j int, c float64) terms {
		if at == nil {
			at = terms{}
		}
		at[j] += c
		return at
	}
	for k := range bp.options {
		o := &bp.options[k]
		for t := range o.may {
			if !o.may[t] || t+o.readySlots >= n {
				continue
			}
			unit := bp.needs.costs[o.bev].unit
			s := saaStart{k, t, m.variable(r.Brewers[o.brewer].BatchCost, 0, 1, 1), m.variable(unit, 0, o.hi, 0)}
			m.starts = append(m.starts, s)
			m.add(terms{s.q: 1, s.x: -o.hi}, -unlimited, 0)
			m.add(terms{s.q: 1, s.x: -o.lo}, 0, unlimited)
			for at := t; at < t+o.busySlots; at++ {
				busy[[2]int{o.brewer, at}] = put(busy[[2]int{o.brewer, at}], s.x, 1)
			}
			people[t] = put(people[t], s.x, 1)
			for at := t + o.bathFrom; at < t+o.bathTo; at++ {
				baths[at] = put(baths[at], s.x, 1)
			}
			for _, u := range o.workAt(t) {
				work[u.Window] = put(work[u.Window], s.x, u.Min)
			}
		}
	}
	for _, x := range busy {
		m.add(x, -unlimited, 1)
	}
	for t, x := range people {
		m.add(x, -unlimited, float64(bp.in.SlotStarts[t]))
	}
	for t, x := range baths {
		if bp.in.Baths != nil && t < n {
			m.add(x, -unlimited, float64(bp.in.Baths[t]))
		}
	}
	for w, x := range work {
		if bp.in.WorkMin != nil {
			m.add(x, -unlimited, bp.in.WorkMin[w])
		}
	}
	for _, l := range bp.in.Limits {
		for t := l.From; t < n; t++ {
			x := terms{}
			for _, s := range m.starts {
				if s.slot >= l.From && s.slot <= t {
					x[s.q], x[s.x] = l.PerG[bp.options[s.option].bev], l.PerBatch
				}
			}
			m.add(x, -unlimited, l.MostG[t])
		}
	}
	m.perDrink = make([][]float64, len(r.Drinks))
	for d := range r.Drinks {
		m.perDrink[d] = make([]float64, len(r.Beverages))
		for _, u := range r.Drinks[d].Uses {
			m.perDrink[d][bp.bevIndex[u.Beverage]] += r.Site.UsedG(u.G)
		}
	}
	m.store()
	for _, day := range days {
		m.scenario(day, 1/float64(len(days)))
	}
	return m
}

// made adds to x what becomes ready of a beverage in slots [from, to), times c.
func (m *sampleAverage) made(x terms, bev, from, to int, c float64) {
	for _, s := range m.starts {
		if o := &m.bp.options[s.option]; o.bev == bev && from <= s.slot+o.readySlots && s.slot+o.readySlots < to {
			x[s.q] += c
		}
	}
}

// store keeps the store's limit on the instance's own path of demand, with some room for sizes that are rounded up. What expires on the
// path, which is little, is not taken out.
func (m *sampleAverage) store() {
	bp := m.bp
	full := make([]terms, bp.h.n)
	for t := range full {
		full[t] = terms{}
	}
	for b := range bp.in.Beverages {
		last := -1
		for t, most := range bp.in.Beverages[b].DemandG {
			left := m.variable(0, 0, unlimited, 0)
			x := terms{left: 1, m.variable(0, 0, most, 0): 1} // left + sold − made = left before
			if last >= 0 {
				x[last] -= 1
			}
			m.made(x, b, t, t+1, -1)
			m.add(x, 0, 0)
			full[t][left] = 1
			last = left
		}
	}
	for _, s := range m.starts {
		o := &m.bp.options[s.option]
		for t := s.slot + o.readySlots - m.bp.earlySlots(o); t < s.slot+o.readySlots; t++ {
			full[t][s.q] += 1
		}
	}
	for _, x := range full {
		m.add(x, -unlimited, 0.98*bp.in.StoreG)
	}
}

func (m *sampleAverage) scenario(day scenario, weight float64) {
	bp, r, n := m.bp, m.bp.req, m.bp.h.n
	sold := make([][]terms, len(r.Beverages)) // by beverage and slot
	for b := range sold {
		for range n {
			sold[b] = append(sold[b], terms{})
		}
	}
	ice := make([]terms, n)
	for t := range ice {
		ice[t] = terms{}
	}
	for d := range r.Drinks {
		lost := bp.needs.prices.MissedOfMade(d, margin.Beverage)
		for t, asked := range day.asked[d] {
			if asked <= 0 {
				continue
			}
			z := m.variable(-lost*weight, 0, asked, 0) // the constant lost·asked is left out
			for b, g := range m.perDrink[d] {
				if g > 0 {
					sold[b][t][z] += g
				}
			}
			ice[t][z] += r.Site.ServingIceUsedG(&r.Drinks[d])
		}
	}
	for b := range r.Beverages {
		c := &bp.needs.costs[b]
		hold, last := bp.in.Beverages[b].HoldSlots, -1
		for t := range n {
			cost := c.aging * bp.h.hours()
			if t == n-1 {
				cost += c.disposal
			}
			left := m.variable(cost*weight, 0, unlimited, 0)
			x := sold[b][t]
			x[left] += 1
			if last >= 0 {
				x[last] -= 1
			}
			m.made(x, b, t, t+1, -1)
			if t >= hold {
				x[m.variable(c.disposal*weight, 0, unlimited, 0)] = 1
			}
			m.add(x, 0, 0)
			if t >= hold-1 { // in order of expiry, all of the lots ready before are gone
				y := terms{left: 1}
				m.made(y, b, t-hold+2, t+1, -1)
				m.add(y, -unlimited, 0)
			}
			last = left
		}
	}
	last := -1
	for t := range n {
		left := m.variable(0, 0, bp.drink.capacity, 0)
		x := ice[t]
		x[left] += 1
		x[m.variable(0, 0, day.make[t], 0)] = -1
		for _, s := range m.starts {
			if o := &bp.options[s.option]; s.slot+o.iceSlots == t {
				big := &o.sizes[len(o.sizes)-1]
				x[s.q] += big.iceG / big.g
			}
		}
		before := 0.0
		if last >= 0 {
			x[last] -= bp.drink.keep
		} else {
			before = day.opening * bp.drink.keep
		}
		m.add(x, before, before)
		last = left
	}
}

// startsOf reads the batches from a solution.
func (m *sampleAverage) startsOf(x []float64) []batch.Start {
	var out []batch.Start
	for _, s := range m.starts {
		if x[s.x] > 0.5 {
			out = append(out, m.bp.startAt(s.option, s.slot, x[s.q]))
		}
	}
	return out
}

// startAt is a batch of an option of the size nearest to g.
func (bp *brewPlan) startAt(option, slot int, g float64) batch.Start {
	o := &bp.options[option]
	return batch.Start{Brewer: bp.req.Brewers[o.brewer].Code, Beverage: bp.req.Beverages[o.bev].Code, StartSlot: slot, G: o.nearest(g).g}
}

// wholeCost is the expected cost of batches on the days given; it is infinite if they are not allowed.
func (bp *brewPlan) wholeCost(t *testing.T, starts []batch.Start, days *risk.Days) float64 {
	t.Helper()
	if _, err := batch.Evaluate(bp.in, starts); err != nil {
		return math.Inf(1)
	}
	require.NoError(t, bp.accept(starts))
	if bp.withoutIce() >= 0 || bp.withoutBathIce() >= 0 {
		return math.Inf(1)
	}
	cost, err := bp.costOver(context.Background(), days)
	require.NoError(t, err)
	return cost
}

// searched improves batches by random changes on simulated days.
func (bp *brewPlan) searched(t *testing.T, starts []batch.Start, days *risk.Days, tries int) []batch.Start {
	t.Helper()
	rng := rand.New(rand.NewPCG(99, 1))
	best := bp.wholeCost(t, starts, days)
	for range tries {
		next := slices.Clone(starts)
		i := 0
		if len(next) > 0 {
			i = rng.IntN(len(next))
		}
		size := func(i int, f float64) {
			next[i].G = bp.options[bp.optionOf(next[i])].nearest(next[i].G * f).g
		}
		move := rng.IntN(10)
		if len(next) == 0 {
			move = 9
		}
		switch {
		case move < 3:
			next[i].StartSlot += rng.IntN(13) - 6
		case move < 6:
			size(i, 0.6+0.9*rng.Float64())
		case move < 7:
			f := 0.85 + 0.3*rng.Float64()
			for i := range next {
				size(i, f)
			}
		case move < 8: // from one to another
			j := rng.IntN(len(next))
			f := 0.6 + 0.4*rng.Float64()
			size(i, f)
			size(j, 1+(1-f)*starts[i].G/starts[j].G)
		case move < 9:
			next = slices.Delete(next, i, i+1)
		default:
			k := rng.IntN(len(bp.options))
			o := &bp.options[k]
			next = append(next, bp.startAt(k, rng.IntN(bp.h.n), o.lo+rng.Float64()*(o.hi-o.lo)))
		}
		if c := bp.wholeCost(t, next, days); c < best {
			best, starts = c, next
		}
	}
	return starts
}

// Work of the references.
const (
	referenceScenarios = 20
	referenceSeconds   = 60
	referenceTries     = 1500
	referenceDays      = 400
)

// reference is the batches of the two references for a case.
type wholeReference struct {
	Case     string        `json:"case"`
	SAA      []batch.Start `json:"sample_average"`
	Searched []batch.Start `json:"searched"`
}

const wholeReferenceFile = "../testdata/reference/wholedrinks.json"

// mostExcess is how much dearer than the better reference a plan may be, as a share.
const mostExcess = 0.02

// freshSeed is that of the days on which plans and references are compared, which neither has seen.
const freshSeed = 4711

// TestPlansAgainstWholeDrinks compares the plan with the recorded references. With HOTDAY_SOLVE=1 it computes the references again, with
// HiGHS.
func TestPlansAgainstWholeDrinks(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("short: takes long with the race detector")
	}
	recorded := map[string]wholeReference{}
	if data, err := os.ReadFile(wholeReferenceFile); err == nil {
		var all []wholeReference
		require.NoError(t, json.Unmarshal(data, &all))
		for _, x := range all {
			recorded[x.Case] = x
		}
	}
	solve := os.Getenv("HOTDAY_SOLVE") == "1"
	for _, c := range wholeCases(t) {
		t.Run(c.name, func(t *testing.T) {
			ref, ok := recorded[c.name]
			require.True(t, ok || solve, "no reference is recorded for it")
			res, err := compute(context.Background(), &c.r, Options{WithoutFixes: true, NoChoices: true})
			require.NoError(t, err)
			bp, fresh := res.brewPlan, risk.Draw(freshSeed, 1000)
			plan := bp.wholeCost(t, slices.Clone(bp.result.Starts), fresh)
			bp.setLevels(nil) // at the critical ratio, whatever levels the plan has chosen
			bp.setIce(bp.drink.loads)
			bp.in.Limits = bp.limits()
			if solve {
				ref = bp.solvedReference(t, c.name)
				recorded[c.name] = ref
			}
			saa, searched := bp.wholeCost(t, ref.SAA, fresh), bp.wholeCost(t, ref.Searched, fresh)
			excess := plan/min(saa, searched) - 1
			if !solve {
				assert.LessOrEqual(t, excess, mostExcess)
			}
			t.Logf("| %-26s | %6.0f | %6.0f | %6.0f | %5.1f %% |", c.name, plan, saa, searched, 100*excess)
		})
	}
	if solve {
		var all []wholeReference
		for _, c := range wholeCases(t) {
			if x, ok := recorded[c.name]; ok {
				all = append(all, x)
			}
		}
		data, err := json.MarshalIndent(all, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(wholeReferenceFile, append(data, '\n'), 0o600))
	}
}

// solvedReference computes both references of a case.
func (bp *brewPlan) solvedReference(t *testing.T, name string) wholeReference {
	t.Helper()
	m := bp.sampleAverage(scenariosOf(bp, referenceScenarios, 31))
	saa := m.startsOf(solveProgram(t, &m.program, referenceSeconds))
	days := risk.Draw(77, referenceDays)
	exact := slices.Clone(saa)
	for f := 0.998; math.IsInf(bp.wholeCost(t, saa, days), 1) && f > 0.8; f -= 0.002 { // rounded to sizes it may be too much
		for i := range saa {
			saa[i].G = bp.options[bp.optionOf(saa[i])].nearest(exact[i].G * f).g
		}
	}
	return wholeReference{name, saa, bp.searched(t, saa, days, referenceTries)}
}
