package batch

import (
	"math"
	"slices"
)

// program is a linear program: minimise cost·x subject to a·x ≤ rhs by row and 0 ≤ x ≤ upper. It is solved by the primal simplex
// method with bounded variables and an explicit basis inverse, with a warm start: columns and rows can be added between solves.
// Row r has its slack in column slackOf[r]; an equality has a slack with upper bound 0.
type program struct {
	cols    []column
	rhs     []float64
	slackOf []int

	basis   []int     // column basic in row r
	rowOf   []int     // row in which column j is basic, -1
	atUpper []bool    // nonbasic column at its upper bound
	inv     []float64 // basis inverse, by row, each stride long
	stride  int
	x       []float64 // value of the basic column of row r

	y, dir        []float64 // duals, direction
	nonzeros      []int32   // scratch of pivot
	candidates    []int32   // candidate list: columns with negative reduced cost at the last full pricing
	pivots        int       // in total
	sinceRefactor int       // pivots since the last refactorisation
}

type column struct {
	row         []int32
	val         []float64
	cost, upper float64
}

// addColumn adds a nonbasic column at 0 and returns its index.
func (l *program) addColumn(c column) int {
	n := len(l.cols)
	if n < cap(l.cols) { // reuse memory from before reset
		old := &l.cols[:n+1][n]
		c.row, c.val = append(old.row[:0], c.row...), append(old.val[:0], c.val...)
	}
	l.cols = append(l.cols, c)
	l.rowOf = append(l.rowOf, -1)
	l.atUpper = append(l.atUpper, false)
	return len(l.cols) - 1
}

// addRow adds the row Σ coef(j)·x_j ≤ rhs over the columns so far, with a slack of the given upper bound and an elastic column,
// which permits violation of the row at the given cost (none if that is infinite). The slack, or the elastic column if the row is
// violated, becomes basic, so the program remains primal feasible. It returns the index of the row.
func (l *program) addRow(coef func(j int) float64, rhs, slackUpper, elastic float64) int {
	m := len(l.rhs)
	active := 0.0
	if m+1 > l.stride {
		l.widen(2*l.stride + 64)
	}
	row := l.inv[m*l.stride : m*l.stride+m+1]
	clear(row)
	for r := 0; r < m; r++ {
		l.inv[r*l.stride+m] = 0
	}
	for j := range l.cols {
		a := coef(j)
		if a == 0 {
			continue
		}
		l.cols[j].row, l.cols[j].val = append(l.cols[j].row, int32(m)), append(l.cols[j].val, a)
		if r := l.rowOf[j]; r >= 0 {
			active += a * l.x[r]
			for k, v := range l.inv[r*l.stride : r*l.stride+m] {
				row[k] -= a * v
			}
		} else if l.atUpper[j] {
			active += a * l.cols[j].upper
		}
	}
	l.rhs = append(l.rhs, rhs)
	slack := l.addColumn(column{row: []int32{int32(m)}, val: []float64{1}, upper: slackUpper})
	l.slackOf = append(l.slackOf, slack)
	basic, sign := slack, 1.0
	if !math.IsInf(elastic, 1) {
		e := l.addColumn(column{row: []int32{int32(m)}, val: []float64{-1}, cost: elastic, upper: math.Inf(1)})
		if active > rhs {
			basic, sign = e, -1
		}
	}
	row[m] = 1
	if sign < 0 {
		for k := range row {
			row[k] = -row[k]
		}
	}
	l.basis = append(l.basis, basic)
	l.rowOf[basic] = m
	l.x = append(l.x, sign*(rhs-active))
	return m
}

func (l *program) widen(wide int) {
	m := len(l.rhs)
	inv := make([]float64, wide*wide)
	for r := 0; r < m; r++ {
		copy(inv[r*wide:r*wide+m], l.inv[r*l.stride:r*l.stride+m])
	}
	l.inv, l.stride = inv, wide
	l.dir = make([]float64, wide)
	l.y = make([]float64, wide)
}

// duals recomputes the dual values of the rows: costs of the basis times its inverse.
func (l *program) duals() []float64 {
	m := len(l.rhs)
	y := l.y[:m]
	clear(y)
	for r, j := range l.basis {
		if c := l.cols[j].cost; c != 0 {
			for k, v := range l.inv[r*l.stride : r*l.stride+m] {
				y[k] += c * v
			}
		}
	}
	return y
}

// solve runs the simplex method for up to the given number of pivots and reports whether it reached the optimum. It uses partial
// pricing: the candidate list first, and a full pricing when that is exhausted.
func (l *program) solve(pivots int) bool {
	stuck, sure := 0, true
	l.duals()
	l.candidates = l.candidates[:0]
	for n := 0; n < pivots; n++ {
		if l.sinceRefactor > 250 {
			l.refactor()
			l.duals()
			sure = true
		}
		j, gain := l.enter(stuck > 60)
		if j < 0 {
			if sure {
				return true
			}
			l.duals() // the updated duals may have drifted
			sure = true
			continue
		}
		moved, ok := l.pivot(j, gain)
		if !ok {
			return false
		}
		sure = false
		if moved {
			stuck = 0
		} else {
			stuck++
		}
	}
	return false
}

// enterTol is the optimality tolerance on reduced costs.
const enterTol = 1e-9

// enter chooses the entering column and returns its gain: the one with the largest gain among the candidates, or with first set
// the first (Bland's rule, against cycling); -1 for none.
func (l *program) enter(first bool) (j int, gain float64) {
	if first {
		for k := range l.cols {
			if g := l.gain(k); g > enterTol {
				return k, g
			}
		}
		return -1, 0
	}
	best, j := enterTol, -1
	kept := l.candidates[:0]
	for _, k := range l.candidates {
		if g := l.gain(int(k)); g > enterTol {
			kept = append(kept, k)
			if g > best {
				best, j = g, int(k)
			}
		}
	}
	l.candidates = kept
	if j >= 0 {
		return j, best
	}
	for k := range l.cols {
		if g := l.gain(k); g > enterTol {
			l.candidates = append(l.candidates, int32(k))
			if g > best {
				best, j = g, k
			}
		}
	}
	return j, best
}

// gain is the decrease of the objective per unit that column k moves off its bound; 0 for basic and fixed columns.
func (l *program) gain(k int) float64 {
	c := &l.cols[k]
	if l.rowOf[k] >= 0 || c.upper == 0 {
		return 0
	}
	d := c.cost
	for i, r := range c.row {
		d -= l.y[r] * c.val[i]
	}
	if l.atUpper[k] {
		return d
	}
	return -d
}

// pivot moves column j up from 0 or down from its upper bound, with the given gain, as far as the bounds allow, and updates the
// basis. moved is false for a degenerate step; ok is false if the program is unbounded.
func (l *program) pivot(j int, gain float64) (moved, ok bool) {
	m := len(l.rhs)
	up := !l.atUpper[j]
	c := &l.cols[j]
	dir := l.dir[:m]
	for r := range dir {
		v, row := 0.0, l.inv[r*l.stride:r*l.stride+m]
		for i, k := range c.row {
			v += row[k] * c.val[i]
		}
		if !up {
			v = -v
		}
		dir[r] = v // decrease of the basic variable of row r per unit
	}
	leave, step, toUpper := -1, c.upper, false
	pivotSize := 0.0
	for r, v := range dir {
		var limit float64
		var upper bool
		switch {
		case v > 1e-9:
			limit = max(0, l.x[r]) / v
		case v < -1e-9:
			b := l.cols[l.basis[r]].upper
			if math.IsInf(b, 1) {
				continue
			}
			limit, upper = max(0, b-l.x[r])/-v, true
		default:
			continue
		}
		if limit < step-1e-10 || (limit <= step+1e-10 && leave >= 0 && math.Abs(v) > pivotSize) {
			leave, step, toUpper, pivotSize = r, min(limit, step), upper, math.Abs(v)
		}
	}
	if math.IsInf(step, 1) {
		return false, false
	}
	for r, v := range dir {
		l.x[r] -= step * v
	}
	if leave < 0 { // bound flip
		l.atUpper[j] = up
		return true, true
	}
	l.pivots++
	l.sinceRefactor++
	out := l.basis[leave]
	l.rowOf[out] = -1
	l.atUpper[out] = toUpper
	l.basis[leave], l.rowOf[j] = j, leave
	if up {
		l.x[leave] = step
	} else {
		l.x[leave] = c.upper - step
	}
	l.atUpper[j] = false
	p := dir[leave]
	if !up {
		p = -p
	}
	pr := l.inv[leave*l.stride : leave*l.stride+m]
	for k := range pr {
		pr[k] /= p
	}
	slope := -gain
	if !up {
		slope = gain
	}
	for k, v := range pr {
		l.y[k] += slope * v
	}
	l.nonzeros = l.nonzeros[:0] // nonzeros: rows of the inverse are often sparse
	for k, v := range pr {
		if v != 0 {
			l.nonzeros = append(l.nonzeros, int32(k))
		}
	}
	sparse := 2*len(l.nonzeros) < m
	for r, v := range dir {
		if r == leave || v == 0 {
			continue
		}
		if !up {
			v = -v
		}
		row := l.inv[r*l.stride : r*l.stride+m]
		if sparse {
			for _, k := range l.nonzeros {
				row[k] -= v * pr[k]
			}
			continue
		}
		row = row[:len(pr)]
		for k, pv := range pr {
			row[k] -= v * pv
		}
	}
	return step > 1e-12, true
}

// refactor recomputes the basis inverse and the basic values to remove accumulated rounding errors.
func (l *program) refactor() {
	m := len(l.rhs)
	l.sinceRefactor = 0
	a := make([]float64, m*m)
	inv := make([]float64, m*m)
	for r, j := range l.basis {
		for i, k := range l.cols[j].row {
			a[int(k)*m+r] = l.cols[j].val[i]
		}
		inv[r*m+r] = 1
	}
	for p := 0; p < m; p++ {
		best := p
		for r := p + 1; r < m; r++ {
			if math.Abs(a[r*m+p]) > math.Abs(a[best*m+p]) {
				best = r
			}
		}
		if math.Abs(a[best*m+p]) < 1e-12 {
			return // nearly singular: keep the updated inverse
		}
		if best != p {
			for k := 0; k < m; k++ {
				a[p*m+k], a[best*m+k] = a[best*m+k], a[p*m+k]
				inv[p*m+k], inv[best*m+k] = inv[best*m+k], inv[p*m+k]
			}
		}
		d := a[p*m+p]
		for k := 0; k < m; k++ {
			a[p*m+k] /= d
			inv[p*m+k] /= d
		}
		for r := 0; r < m; r++ {
			v := a[r*m+p]
			if r == p || v == 0 {
				continue
			}
			for k := p; k < m; k++ {
				a[r*m+k] -= v * a[p*m+k]
			}
			for k := 0; k < m; k++ {
				inv[r*m+k] -= v * inv[p*m+k]
			}
		}
	}
	for r := 0; r < m; r++ {
		copy(l.inv[r*l.stride:r*l.stride+m], inv[r*m:r*m+m])
	}
	b := append([]float64(nil), l.rhs...)
	for j := range l.cols {
		if l.rowOf[j] < 0 && l.atUpper[j] {
			for i, k := range l.cols[j].row {
				b[k] -= l.cols[j].val[i] * l.cols[j].upper
			}
		}
	}
	for r := 0; r < m; r++ {
		v := 0.0
		for k, w := range l.inv[r*l.stride : r*l.stride+m] {
			v += w * b[k]
		}
		l.x[r] = v
	}
}

// withinBounds reports whether the basic columns are within their bounds. After a pivot on an element that is 0 but for rounding they may
// be far outside, and the objective is then meaningless.
func (l *program) withinBounds() bool {
	const tol = 1e-4
	for r, j := range l.basis {
		if x := l.x[r]; !(x >= -tol && x <= l.cols[j].upper+tol) {
			return false
		}
	}
	return true
}

// value is the current value of column j.
func (l *program) value(j int) float64 {
	if r := l.rowOf[j]; r >= 0 {
		return l.x[r]
	}
	if l.atUpper[j] {
		return l.cols[j].upper
	}
	return 0
}

// objective is the current cost.
func (l *program) objective() float64 {
	c := 0.0
	for j := range l.cols {
		c += l.cols[j].cost * l.value(j)
	}
	return c
}

// reset clears the program but keeps its memory.
func (l *program) reset() {
	l.cols, l.rhs, l.slackOf = l.cols[:0], l.rhs[:0], l.slackOf[:0]
	l.basis, l.rowOf, l.atUpper, l.x = l.basis[:0], l.rowOf[:0], l.atUpper[:0], l.x[:0]
	l.sinceRefactor = 0
}

// clone is an independent copy.
func (l *program) clone() program {
	out := *l
	out.cols = make([]column, len(l.cols))
	for j, c := range l.cols {
		out.cols[j] = column{row: slices.Clone(c.row), val: slices.Clone(c.val), cost: c.cost, upper: c.upper}
	}
	out.rhs, out.slackOf, out.basis = slices.Clone(l.rhs), slices.Clone(l.slackOf), slices.Clone(l.basis)
	out.rowOf, out.atUpper, out.x = slices.Clone(l.rowOf), slices.Clone(l.atUpper), slices.Clone(l.x)
	out.inv, out.stride, out.candidates, out.nonzeros = nil, 0, nil, nil
	m := len(l.rhs)
	out.stride = m + 24
	out.inv = make([]float64, out.stride*out.stride)
	for r := 0; r < m; r++ {
		copy(out.inv[r*out.stride:r*out.stride+m], l.inv[r*l.stride:r*l.stride+m])
	}
	out.dir, out.y = make([]float64, out.stride), make([]float64, out.stride)
	return out
}

// drop removes nonbasic columns at 0 for which keep is false and returns the new index of each column, -1 if removed.
func (l *program) drop(keep func(j int) bool) []int {
	to := make([]int, len(l.cols))
	n := 0
	for j := range l.cols {
		if l.rowOf[j] < 0 && !l.atUpper[j] && !keep(j) {
			to[j] = -1
			continue
		}
		to[j] = n
		l.cols[n], l.cols[j] = l.cols[j], l.cols[n] // swap, to keep the memory of dropped columns
		l.rowOf[n], l.atUpper[n] = l.rowOf[j], l.atUpper[j]
		n++
	}
	l.cols, l.rowOf, l.atUpper, l.candidates = l.cols[:n], l.rowOf[:n], l.atUpper[:n], l.candidates[:0]
	for r, j := range l.basis {
		l.basis[r] = to[j]
	}
	for r, j := range l.slackOf {
		l.slackOf[r] = to[j]
	}
	return to
}
