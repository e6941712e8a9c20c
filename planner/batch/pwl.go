package batch

import "math"

// piecewise is a continuous piecewise linear function on [x[0], x[n-1]] by its breakpoints, in order of x.
type piecewise struct {
	x, y []float64
}

func (f *piecewise) reset() { f.x, f.y = f.x[:0], f.y[:0] }

func (f *piecewise) last() float64 { return f.x[len(f.x)-1] }

// add appends a breakpoint and drops the one before it if that is on a line with its neighbours.
func (f *piecewise) add(x, y float64) {
	n := len(f.x)
	if n > 0 && x <= f.x[n-1]+1e-9 {
		// Points coincide within rounding: keep the lower value, so that a lower bound remains one.
		f.y[n-1] = min(f.y[n-1], y)
		return
	}
	if n > 1 {
		x0, y0, x1, y1 := f.x[n-2], f.y[n-2], f.x[n-1], f.y[n-1]
		if d := (y1-y0)*(x-x0) - (y-y0)*(x1-x0); d < 1e-10*(x-x0) && d > -1e-10*(x-x0) {
			f.x[n-1], f.y[n-1] = x, y
			return
		}
	}
	f.x, f.y = append(f.x, x), append(f.y, y)
}

// at is the value at x, clamped to the domain.
func (f *piecewise) at(x float64) float64 {
	n := len(f.x)
	if x <= f.x[0] {
		return f.y[0]
	}
	if x >= f.x[n-1] {
		return f.y[n-1]
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		if m := (lo + hi) / 2; f.x[m] <= x {
			lo = m
		} else {
			hi = m
		}
	}
	return f.y[lo] + (f.y[hi]-f.y[lo])*(x-f.x[lo])/(f.x[hi]-f.x[lo])
}

// cutAbove ends the domain at x.
func (f *piecewise) cutAbove(x float64) {
	if x >= f.last() {
		return
	}
	x = max(x, f.x[0])
	y := f.at(x)
	n := len(f.x)
	for n > 0 && f.x[n-1] >= x {
		n--
	}
	f.x, f.y = append(f.x[:n], x), append(f.y[:n], y)
}

// lowerEnvelope sets dst to min(f, g). Both begin at the same x; g may end before f and must not be below f there.
func lowerEnvelope(dst, f, g *piecewise) {
	dst.reset()
	i, j := 0, 0
	x0, f0, g0 := f.x[0], f.y[0], g.y[0]
	dst.add(x0, min(f0, g0))
	i, j = 1, 1
	for i < len(f.x) && j < len(g.x) {
		var x1, f1, g1 float64
		switch {
		case f.x[i] <= g.x[j]:
			x1, f1 = f.x[i], f.y[i]
			g1 = g.y[j-1] + (g.y[j]-g.y[j-1])*(x1-g.x[j-1])/(g.x[j]-g.x[j-1])
			if f.x[i] == g.x[j] {
				j++
			}
			i++
		default:
			x1, g1 = g.x[j], g.y[j]
			f1 = f.y[i-1] + (f.y[i]-f.y[i-1])*(x1-f.x[i-1])/(f.x[i]-f.x[i-1])
			j++
		}
		if d0, d1 := f0-g0, f1-g1; (d0 < 0 && d1 > 0) || (d0 > 0 && d1 < 0) {
			s := d0 / (d0 - d1)
			dst.add(x0+(x1-x0)*s, f0+(f1-f0)*s)
		}
		dst.add(x1, min(f1, g1))
		x0, f0, g0 = x1, f1, g1
	}
	for ; i < len(f.x); i++ {
		dst.add(f.x[i], f.y[i])
	}
}

// lowerAnywhere reports whether g is lower than f anywhere. Both begin at the same x; g may end before f.
func lowerAnywhere(g, f *piecewise) bool {
	fx, fy, gx, gy := f.x, f.y[:len(f.x)], g.x, g.y[:len(g.x)]
	if gy[0] < fy[0] {
		return true
	}
	for i, j := 1, 1; i < len(fx) && j < len(gx); {
		switch a, b := fx[i], gx[j]; {
		case a < b:
			if gy[j-1]+(gy[j]-gy[j-1])*(a-gx[j-1])/(b-gx[j-1]) < fy[i] {
				return true
			}
			i++
		default:
			if gy[j] < fy[i-1]+(fy[i]-fy[i-1])*(b-fx[i-1])/(a-fx[i-1]) {
				return true
			}
			if a == b {
				i++
			}
			j++
		}
	}
	return false
}

// slider is the scratch of slide.
type slider struct {
	queue []int32
	h     []float64 // f + s·x at f's points
	slope []float64 // of f + s·x after each point
}

// slide sets dst to c + k·z + min over x in [z+lo, z+hi], cut to f's domain, of f(x) + s·x, for z from f's first x to
// its last less lo. It reports false where no z allows it.
func (w *slider) slide(dst, f *piecewise, lo, hi, s, c, k float64) bool {
	n := len(f.x)
	x := f.x[:n]
	first, last := x[0], x[n-1]
	if first+lo > last || hi < lo {
		return false
	}
	dst.reset()
	w.lines(f, s)
	h, slope := w.h[:n], w.slope[:n]
	// Sliding-window minimum. The two ends of the window sweep over f's breakpoints; between events both ends are on linear
	// pieces and the breakpoints inside the window do not change. The queue holds those that are lower than all later ones,
	// lowest first.
	a := 0 // the lower end is on the piece [a, a+1], the upper end on [b, b+1]
	for a+2 < n && x[a+1] <= first+lo {
		a++
	}
	q, head, b := w.queue[:0], 0, a
	for b+1 < n && x[b+1] <= first+hi {
		b++
		for len(q) > 0 && h[q[len(q)-1]] >= h[b] {
			q = q[:len(q)-1]
		}
		q = append(q, int32(b))
	}
	z, stop := first, last-lo
	for {
		next := stop
		if a+1 < n {
			next = min(next, x[a+1]-lo)
		}
		if b+1 < n {
			next = min(next, x[b+1]-hi)
		}
		next = max(next, z)
		for head < len(q) && int(q[head]) <= a {
			head++
		}
		low0, high0 := h[a]+slope[a]*(z+lo-x[a]), h[n-1]
		if b+1 < n {
			high0 = h[b] + slope[b]*(z+hi-x[b])
		}
		if d := next - z; d > 0 {
			inside := math.Inf(1)
			if head < len(q) {
				inside = h[q[head]]
			}
			minOfThree(dst, z, next, low0, low0+slope[a]*d, high0, high0+slope[b]*d, inside, c, k)
		} else if len(dst.x) == 0 && next >= stop {
			dst.add(z, c+k*z+min(low0, high0))
		}
		z = next
		if z >= stop {
			break
		}
		moved := false
		if a+1 < n && x[a+1]-lo <= z {
			a++
			moved = true
		}
		if b+1 < n && x[b+1]-hi <= z {
			b++
			for len(q) > head && h[q[len(q)-1]] >= h[b] {
				q = q[:len(q)-1]
			}
			q = append(q, int32(b))
			moved = true
		}
		if !moved {
			break
		}
	}
	w.queue = q[:0]
	return len(dst.x) > 0
}

// lines sets h and slope; the slope after the last point is 0.
func (w *slider) lines(f *piecewise, s float64) {
	n := len(f.x)
	if cap(w.h) < n {
		w.h, w.slope = make([]float64, 2*n), make([]float64, 2*n)
	}
	h, slope := w.h[:n], w.slope[:n]
	for i, x := range f.x {
		h[i] = f.y[i] + s*x
	}
	for i := 0; i+1 < n; i++ {
		slope[i] = (h[i+1] - h[i]) / (f.x[i+1] - f.x[i])
	}
	slope[n-1] = 0
}

// minOfThree adds the minimum of two lines and a constant on [x0, x1], plus c + k·x, to dst.
func minOfThree(dst *piecewise, x0, x1, f0, f1, g0, g1, m, c, k float64) {
	dst.add(x0, min(f0, g0, m)+c+k*x0)
	if !(f0 <= g0 && f1 <= g1 && f0 <= m && f1 <= m || g0 <= f0 && g1 <= f1 && g0 <= m && g1 <= m || m <= f0 && m <= f1 && m <= g0 && m <= g1) {
		var cuts [3]float64
		n := crossing(f0, f1, g0, g1, cuts[:0])
		if !math.IsInf(m, 1) {
			n = crossing(f0, f1, m, m, n)
			n = crossing(g0, g1, m, m, n)
		}
		for a := 1; a < len(n); a++ {
			for b := a; b > 0 && n[b] < n[b-1]; b-- {
				n[b], n[b-1] = n[b-1], n[b]
			}
		}
		for _, s := range n {
			x := x0 + (x1-x0)*s
			dst.add(x, min(f0+(f1-f0)*s, g0+(g1-g0)*s, m)+c+k*x)
		}
	}
	dst.add(x1, min(f1, g1, m)+c+k*x1)
}

// crossing appends the position, as a share of the interval, at which a line from a0 to a1 crosses one from b0 to b1.
func crossing(a0, a1, b0, b1 float64, cuts []float64) []float64 {
	if d0, d1 := a0-b0, a1-b1; (d0 < 0 && d1 > 0) || (d0 > 0 && d1 < 0) {
		if s := d0 / (d0 - d1); s > 0 && s < 1 {
			cuts = append(cuts, s)
		}
	}
	return cuts
}
