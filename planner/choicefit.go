package planner

import (
	"math"
	"slices"
)

// fitted are the figures of a choice that cost least on simulated days.
type fitted struct {
	below []float64 // by option; the last has none
	taken []float64 // share of the days, by option
	cost  float64   // mean
}

// fitChoice finds the amounts between options, of the edges, at which the mean cost is lowest. The options are taken in their order as
// more is seen. An option that is not worth having is never taken.
func fitChoice(seen []float64, costs [][]float64, edges []float64) fitted {
	cells := len(edges) + 1
	sum := make([][]float64, len(costs)) // of each option, over the days in cells before
	days := make([]float64, cells+1)
	cell := make([]int, len(seen))
	for r, g := range seen {
		cell[r] = lookCell(edges, g)
		days[cell[r]+1]++
	}
	for k := range costs {
		sum[k] = make([]float64, cells+1)
		for r, x := range costs[k] {
			sum[k][cell[r]+1] += x
		}
		for c := range cells {
			sum[k][c+1] += sum[k][c]
		}
	}
	for c := range cells {
		days[c+1] += days[c]
	}
	// best[c] is the lowest cost of the days in cells before c with the options so far; from[k][c] where option k begins then.
	best, from := make([]float64, cells+1), make([][]int, len(costs))
	copy(best, sum[0])
	from[0] = make([]int, cells+1)
	for k := 1; k < len(costs); k++ {
		from[k] = make([]int, cells+1)
		next := make([]float64, cells+1)
		low, at := math.Inf(1), 0
		for c := range cells + 1 {
			if x := best[c] - sum[k][c]; x <= low { // the latest: with equal cost an option of less is taken later
				low, at = x, c
			}
			next[c], from[k][c] = low+sum[k][c], at
		}
		best = next
	}
	f := fitted{below: make([]float64, len(costs)), taken: make([]float64, len(costs)), cost: best[cells] / float64(len(seen))}
	end := cells
	for k := len(costs) - 1; k >= 0; k-- {
		f.below[k] = math.Inf(1)
		if end <= len(edges) {
			f.below[k] = edges[max(end-1, 0)]
		}
		begin := from[k][end]
		f.taken[k] = (days[end] - days[begin]) / float64(len(seen))
		end = begin
	}
	return f
}

// lookCell is the number of edges that an amount is not below.
func lookCell(edges []float64, g float64) int {
	n, _ := slices.BinarySearchFunc(edges, g, func(e, g float64) int {
		if e <= g {
			return -1
		}
		return 1
	})
	return n
}

// heldOutSaving is what a choice saves a day against its first option: fitted on half of the days, measured on the others, both ways.
func heldOutSaving(seen []float64, costs [][]float64, edges []float64) float64 {
	saved := 0.0
	for half := range 2 {
		var in, out []int
		for r := range seen {
			if r%2 == half {
				in = append(in, r)
			} else {
				out = append(out, r)
			}
		}
		pick := func(rows []int) ([]float64, [][]float64) {
			s, c := make([]float64, len(rows)), make([][]float64, len(costs))
			for i, r := range rows {
				s[i] = seen[r]
				for k := range costs {
					c[k] = append(c[k], costs[k][r])
				}
			}
			return s, c
		}
		s, c := pick(in)
		f := fitChoice(s, c, edges)
		for _, r := range out {
			saved += costs[0][r] - costs[f.option(seen[r])][r]
		}
	}
	return saved / float64(len(seen))
}

// option is the option taken when g are seen.
func (f *fitted) option(g float64) int {
	for k := range f.below {
		if f.taken[k] > 0 && g < f.below[k] {
			return k
		}
	}
	return len(f.below) - 1
}

// fitOf is the fit with figures given, of all options but the last.
func fitOf(seen []float64, costs [][]float64, below []float64) fitted {
	f := fitted{below: append(slices.Clone(below), math.Inf(1)), taken: slices.Repeat([]float64{1}, len(costs))}
	taken := make([]float64, len(costs))
	for r, g := range seen {
		k := f.option(g)
		taken[k] += 1 / float64(len(seen))
		f.cost += costs[k][r] / float64(len(seen))
	}
	f.taken = taken
	return f
}
