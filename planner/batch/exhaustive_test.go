package batch

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// exhaustive is the minimum cost over all sets of starts, each with its grams and serving optimised by the full linear program;
// ok is false if there are more than most sets.
func exhaustive(in *Instance, most int) (cost float64, starts []batchStart, ok bool) {
	p := compile(in)
	var all []batchStart
	for k := range p.opts {
		for t, may := range p.opts[k].canStart {
			if may {
				all = append(all, batchStart{opt: k, slot: t})
			}
		}
	}
	s := &solver{p: p}
	best := math.Inf(1)
	count := 0
	var walk func(from int, set []batchStart)
	walk = func(from int, set []batchStart) {
		if count++; count > most {
			return
		}
		if c := fullProgram(p, set); c < best {
			best, starts = c, append([]batchStart(nil), set...)
		}
		for k := from; k < len(all); k++ {
			if s.canPlace(set, all[k].opt, all[k].slot, -1) {
				walk(k+1, append(set, all[k]))
			}
		}
	}
	walk(0, nil)
	return best, starts, count <= most
}

// fullProgram is the minimum cost of given starts by the full linear program: a column for every lot and slot in which it can be
// served, a row for every slot's demand, store and ice. It is infinite if they are infeasible.
func fullProgram(p *problem, set []batchStart) float64 {
	const dear = 1e6
	l := &program{}
	fixed := 0.0
	type held struct {
		lot
		grams int // column, -1 for an opening lot
		serve map[int]int
	}
	var lots []held
	cell := map[[2]int][]int{} // beverage, slot: columns that serve it
	for i := range p.bevs {
		b := &p.bevs[i]
		for _, lt := range p.lots(i, set, nil) {
			h := held{lot: lt, grams: -1, serve: map[int]int{}}
			left := b.leftCost(&lt)
			if lt.start >= 0 {
				o := &p.opts[set[lt.start].opt]
				h.grams = l.addColumn(column{cost: b.unit + left, upper: o.max - o.min})
				h.g = o.min
				fixed += o.fixed + (b.unit+left)*o.min
			} else {
				fixed += left * lt.g
			}
			for t := max(0, lt.ready); t < min(lt.expires, p.slots); t++ {
				h.serve[t] = l.addColumn(column{cost: b.aging*float64(t-lt.ready) - left - b.short, upper: math.Inf(1)})
				cell[[2]int{i, t}] = append(cell[[2]int{i, t}], h.serve[t])
			}
			lots = append(lots, h)
		}
		fixed += b.short * b.cum[p.slots]
	}
	row := func(coef map[int]float64, rhs float64) {
		l.addRow(func(j int) float64 { return coef[j] }, rhs, math.Inf(1), dear)
	}
	for i := range p.bevs {
		for t, d := range p.bevs[i].demand {
			coef := map[int]float64{}
			for _, j := range cell[[2]int{i, t}] {
				coef[j] = 1
			}
			row(coef, d)
		}
	}
	for _, h := range lots {
		coef := map[int]float64{}
		for _, j := range h.serve {
			coef[j] = 1
		}
		if h.grams >= 0 {
			coef[h.grams] = -1
		}
		row(coef, h.g)
	}
	for t := 0; t < p.slots; t++ {
		coef, rhs := map[int]float64{}, p.store[t]
		for _, h := range lots {
			if h.ready-h.early > t || t >= h.expires {
				continue
			}
			rhs -= h.g
			if h.grams >= 0 {
				coef[h.grams] = 1
			}
			for s, j := range h.serve {
				if s <= t {
					coef[j] = -1
				}
			}
		}
		row(coef, rhs)
	}
	if b := p.ice; b != nil {
		level, made, short := make([]int, p.slots), make([]int, p.slots), make([]int, p.slots)
		for t := range level {
			level[t] = l.addColumn(column{upper: b.capacity})
			made[t] = l.addColumn(column{upper: b.make[t]})
			short[t] = l.addColumn(column{cost: b.short, upper: b.serve[t]})
		}
		for t := range level {
			coef := map[int]float64{level[t]: 1, made[t]: -1, short[t]: -1}
			rhs := -b.serve[t]
			if t > 0 {
				coef[level[t-1]] = -b.keep
			} else {
				rhs += b.keep * b.opening
			}
			for k, h := range lots {
				if h.start < 0 {
					continue
				}
				o := &p.opts[set[h.start].opt]
				if set[h.start].slot+o.iceSlots == t {
					coef[lots[k].grams] = o.icePerG
					rhs -= o.icePerG * o.min
				}
			}
			row(coef, rhs)
		}
	}
	if !l.solve(100000) {
		return math.NaN()
	}
	for j := range l.cols {
		if l.cols[j].cost == dear && l.value(j) > 1e-5 {
			return math.Inf(1)
		}
	}
	return fixed + l.objective()
}

func TestSolveAgreesWithExhaustiveSearch(t *testing.T) {
	t.Parallel()
	want := 600
	if raceSlows {
		want = 100
	}
	rng := rand.New(rand.NewPCG(7, 7))
	done, reached := 0, 0
	for tries := 0; done < want; tries++ {
		in := tiny(rng)
		if in.Validate() != nil {
			continue
		}
		best, starts, ok := exhaustive(in, 400)
		if !ok {
			continue
		}
		done++
		require.False(t, math.IsNaN(best))
		r, err := Solve(context.Background(), in, Options{Seed: uint64(done), Budget: 40_000})
		require.NoError(t, err)
		require.NoError(t, verify(in, r), "instance %d", tries)
		tol := 1e-6 * max(1, math.Abs(best))
		require.GreaterOrEqual(t, r.Objective, best-tol, "instance %d: cheaper than the optimum", tries)
		require.LessOrEqual(t, r.LowerBound, best+tol, "instance %d: the bound is above the optimum", tries)
		if r.Objective <= best+0.0006*max(1, math.Abs(best)) {
			reached++
		} else {
			t.Logf("instance %d: %g, optimum %g, bound %g; starts %v, optimal %v", tries, r.Objective, best, r.LowerBound, r.Starts, starts)
		}
	}
	t.Logf("%d of %d at the optimum", reached, done)
	require.GreaterOrEqual(t, reached, done*99/100)
}
