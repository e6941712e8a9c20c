package forecast

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// seriesRows are the rows of one series in the regression: the design matrix row by row, relative demand, weights, and offsets of
// the log mean (nil: none).
type seriesRows struct {
	x                 []float32
	y, weight, offset []float64
}

// newton maximises the ridge-penalised likelihood of a log-link Poisson regression with p coefficients. Most Newton steps reuse
// an earlier Hessian: a step that only needs the gradient costs a tenth.
type newton struct {
	p    int
	h, g []float64 // upper triangle of the Hessian X'WX, stored as a square; gradient X'W(y−µ)
	chol mat.Cholesky
	step mat.VecDense
}

func newNewton(p int) *newton { return &newton{p: p, h: make([]float64, p*p), g: make([]float64, p)} }

// Limits of the solver.
const (
	maxHessians = 8
	maxSteps    = 40
	tolerance   = 1e-4 // of the largest change of a coefficient
)

// solve moves b to the penalised maximum. The intercept (column 0) is hardly shrunk.
func (n *newton) solve(parts []seriesRows, b []float64, ridge float64) {
	hessians, last := 0, math.Inf(1)
	newHessian := true
	for range maxSteps {
		n.accumulate(parts, b, newHessian)
		if newHessian {
			hessians++
			for i := range n.p {
				n.h[i*n.p+i] += penalty(i, ridge)
			}
			if !n.chol.Factorize(mat.NewSymDense(n.p, n.h)) {
				return
			}
		}
		for i := range n.g {
			n.g[i] -= penalty(i, ridge) * b[i]
		}
		if err := n.chol.SolveVecTo(&n.step, mat.NewVecDense(n.p, n.g)); err != nil {
			return
		}
		largest := 0.0
		for i := range b {
			largest = math.Max(largest, math.Abs(n.step.AtVec(i)))
		}
		if math.IsNaN(largest) {
			return
		}
		scale := 1 / math.Max(largest, 1) // bounds the step, so that the exponential cannot overflow
		for i := range b {
			b[i] += scale * n.step.AtVec(i)
		}
		if largest < tolerance {
			return
		}
		newHessian = largest > 0.4*last && hessians < maxHessians
		last = largest
	}
}

func penalty(column int, ridge float64) float64 {
	if column == 0 {
		return math.Min(ridgeIntercept, ridge)
	}
	return ridge
}

// accumulate sums the gradient over all rows, and the Hessian if asked for.
func (n *newton) accumulate(parts []seriesRows, b []float64, hessian bool) {
	clear(n.g)
	if hessian {
		clear(n.h)
	}
	p := n.p
	var w [4]float64
	for _, s := range parts {
		rows := len(s.y)
		for k := 0; k < rows; k += 4 {
			block := min(4, rows-k)
			for j := range block {
				x := s.x[(k+j)*p : (k+j+1)*p]
				eta := dot32(x, b)
				if s.offset != nil {
					eta += s.offset[k+j]
				}
				mu := math.Exp(clampLogMean(eta))
				w[j] = s.weight[k+j] * mu
				e := s.weight[k+j] * (s.y[k+j] - mu)
				g := n.g[:len(x)]
				for i, xi := range x {
					g[i] += e * float64(xi)
				}
			}
			if !hessian {
				continue
			}
			if block == 4 {
				n.addFourRows(s.x[k*p:(k+4)*p], w)
				continue
			}
			for j := range block {
				n.addRow(s.x[(k+j)*p:(k+j+1)*p], w[j])
			}
		}
	}
}

func (n *newton) addRow(x []float32, w float64) {
	for i, xi := range x {
		row, tail := n.h[i*n.p+i:(i+1)*n.p], x[i:]
		a := w * float64(xi)
		for j := range row {
			row[j] += a * float64(tail[j])
		}
	}
}

// addFourRows adds four rows to the Hessian at once, which saves three of four reads of the sums.
func (n *newton) addFourRows(x []float32, w [4]float64) {
	p := n.p
	for i := range p {
		a0, a1, a2, a3 := w[0]*float64(x[i]), w[1]*float64(x[p+i]), w[2]*float64(x[2*p+i]), w[3]*float64(x[3*p+i])
		if a0 == 0 && a1 == 0 && a2 == 0 && a3 == 0 {
			continue
		}
		row := n.h[i*p+i : (i+1)*p]
		x0, x1, x2, x3 := x[i:p], x[p+i:2*p], x[2*p+i:3*p], x[3*p+i:4*p]
		x0, x1, x2, x3 = x0[:len(row)], x1[:len(row)], x2[:len(row)], x3[:len(row)]
		for j := range row {
			row[j] += a0*float64(x0[j]) + a1*float64(x1[j]) + a2*float64(x2[j]) + a3*float64(x3[j])
		}
	}
}
