package learnt

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// gaussian is a normal approximation of a posterior: its mode and a square root of its covariance, L with Cov = L·Lᵀ.
type gaussian struct {
	mode []float64
	root *mat.Dense
}

// laplace approximates a density by a normal distribution at its mode (Laplace's method), exactly for a normal density. It takes Newton
// steps in coordinates in which the distribution so far is standard normal, with differences of one standard deviation: a likelihood that is
// uneven on a smaller scale does not disturb them. start and its standard deviations are a first guess, of the right order. ok is false if
// the steps do not settle.
func laplace(logDensity func([]float64) float64, start, sds []float64) (g gaussian, ok bool) {
	const steps, farthest, narrowest, widest = 14, 3.0, 0.15, 6.0
	n := len(start)
	g = gaussian{mode: append([]float64{}, start...), root: mat.NewDense(n, n, nil)}
	for i, sd := range sds {
		g.root.Set(i, i, sd)
	}
	here := logDensity(g.mode)
	for step := range steps {
		grad, neg := g.derivatives(logDensity, here)
		var eigen mat.EigenSym
		if !eigen.Factorize(neg, true) {
			return g, false
		}
		var vectors mat.Dense
		eigen.VectorsTo(&vectors)
		settled := true
		var slope mat.VecDense
		slope.MulVec(vectors.T(), grad)
		move := mat.NewVecDense(n, nil) // along the eigenvectors
		scale := mat.NewDiagDense(n, nil)
		for i, v := range eigen.Values(nil) {
			settled = settled && v > 0.6 && v < 1.7
			v = min(max(v, narrowest), widest)
			move.SetVec(i, slope.AtVec(i)/v)
			scale.SetDiag(i, 1/math.Sqrt(v))
		}
		far := mat.Norm(move, 2)
		settled = settled && far < 0.3
		if far > farthest {
			move.ScaleVec(farthest/far, move)
		}
		var white mat.VecDense
		white.MulVec(&vectors, move)
		for share := 1.0; share > 0.1; share /= 2 {
			y := g.at(&white, share)
			if v := logDensity(y); v > here {
				g.mode, here = y, v
				break
			}
		}
		var turned mat.Dense
		turned.Mul(g.root, &vectors)
		g.root.Mul(&turned, scale)
		if settled && step > 0 {
			return g, true
		}
	}
	return g, false
}

// at is the point that lies share·white from the mode, in standard deviations.
func (g gaussian) at(white mat.Vector, share float64) []float64 {
	var v mat.VecDense
	v.MulVec(g.root, white)
	out := make([]float64, len(g.mode))
	for i := range out {
		out[i] = g.mode[i] + share*v.AtVec(i)
	}
	return out
}

// derivatives are the gradient and the negative Hessian at the mode, in standard deviations, by central differences of one of them.
func (g gaussian) derivatives(f func([]float64) float64, here float64) (grad *mat.VecDense, neg *mat.SymDense) {
	n := len(g.mode)
	grad, neg = mat.NewVecDense(n, nil), mat.NewSymDense(n, nil)
	white := mat.NewVecDense(n, nil)
	at := func(i, j int, a, b float64) float64 {
		white.Zero()
		white.SetVec(j, b)
		white.SetVec(i, a)
		return f(g.at(white, 1))
	}
	up, down := make([]float64, n), make([]float64, n)
	for i := range n {
		up[i], down[i] = at(i, i, 1, 1), at(i, i, -1, -1)
		grad.SetVec(i, (up[i]-down[i])/2)
		neg.SetSym(i, i, 2*here-up[i]-down[i])
	}
	for i := range n {
		for j := range i {
			neg.SetSym(i, j, (up[i]+up[j]-2*here+down[i]+down[j]-at(i, j, 1, 1)-at(i, j, -1, -1))/2)
		}
	}
	return grad, neg
}

// along is the mean and standard deviation of a linear combination of the parameters.
func (g gaussian) along(weights []float64) (mean, sd float64) {
	var v mat.VecDense
	v.MulVec(g.root.T(), mat.NewVecDense(len(weights), weights))
	for i, x := range weights {
		mean += x * g.mode[i]
	}
	return mean, mat.Norm(&v, 2)
}

// given is the mode where some parameters are known: fixed holds their values, NaN for those that are not. ok is false where the covariance
// is singular.
func (g gaussian) given(fixed []float64) (mode []float64, ok bool) {
	n := len(g.mode)
	var known []int
	for i, x := range fixed {
		if !math.IsNaN(x) {
			known = append(known, i)
		}
	}
	mode = append([]float64{}, g.mode...)
	if len(known) == 0 {
		return mode, true
	}
	var cov mat.Dense
	cov.Mul(g.root, g.root.T())
	inner, off := mat.NewSymDense(len(known), nil), mat.NewVecDense(len(known), nil)
	for a, i := range known {
		off.SetVec(a, fixed[i]-g.mode[i])
		for b, j := range known[:a+1] {
			inner.SetSym(a, b, cov.At(i, j))
		}
	}
	var chol mat.Cholesky
	var pull mat.VecDense
	if !chol.Factorize(inner) || chol.SolveVecTo(&pull, off) != nil {
		return mode, false
	}
	for i := range n {
		for a, j := range known {
			mode[i] += cov.At(i, j) * pull.AtVec(a)
		}
	}
	for _, i := range known {
		mode[i] = fixed[i]
	}
	return mode, true
}
