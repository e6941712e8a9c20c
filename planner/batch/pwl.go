package batch

import "math"

// piecewise is a continuous piecewise linear function on [x[0], x[n-1]], linear between its points. x rises.
type piecewise struct {
	x, y []float64
}

func (f *piecewise) reset() { f.x, f.y = f.x[:0], f.y[:0] }

func (f *piecewise) last() float64 { return f.x[len(f.x)-1] }

// add appends a point; what lies on the line through its neighbours is left out.
func (f *piecewise) add(x, y float64) {
	n := len(f.x)
	if n > 0 && x <= f.x[n-1]+1e-9 {
		// Two points closer than rounding: the lower value is kept, so that a bound stays a bound.
		f.y[n-1] = min(f.y[n-1], y)
		return
	}
	if n > 1 {
		x0, y0, x1, y1 := f.x[n-2], f.y[n-2], f.x[n-1], f.y[n-1]
		on := y0 + (y-y0)*(x1-x0)/(x-x0)
		if d := y1 - on; d < 1e-10 && d > -1e-10 {
			f.x[n-1], f.y[n-1] = x, y
			return
		}
	}
	f.x, f.y = append(f.x, x), append(f.y, y)
}

// at is the value at x, which lies in the domain up to rounding.
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

// lowerEnvelope sets dst to the smaller of f and g. Both begin at the same x; g may end before f does, where it must not be
// below f.
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

// slider is the scratch of slide.
type slider struct {
	queue []int
}

// slide sets dst to c + k·z + min over x in [z+lo, z+hi], cut to f's domain, of f(x) + s·x, for z from f's first x to
// its last less lo. It reports false where no z allows it.
func (w *slider) slide(dst, f *piecewise, lo, hi, s, c, k float64) bool {
	n := len(f.x)
	first, last := f.x[0], f.x[n-1]
	if first+lo > last || hi < lo {
		return false
	}
	dst.reset()
	h := func(i int) float64 { return f.y[i] + s*f.x[i] }
	// The window's two ends walk over f's points; between two events both ends are on straight pieces and the points
	// inside the window stay the same.
	a, b := 0, 0 // the low end is on the piece [a, a+1], the high end on [b, b+1]
	for a+2 < n && f.x[a+1] <= first+lo {
		a++
	}
	q := w.queue[:0]
	push := func(i int) {
		v := h(i)
		for len(q) > 0 && h(q[len(q)-1]) >= v {
			q = q[:len(q)-1]
		}
		q = append(q, i)
	}
	head := 0
	line := func(i int, x float64) float64 {
		if i+1 >= n || x >= last {
			return h(n - 1)
		}
		return h(i) + (h(i+1)-h(i))*(x-f.x[i])/(f.x[i+1]-f.x[i])
	}
	z := first
	b = a
	for i := a + 1; i < n && f.x[i] <= first+hi; i++ {
		push(i)
		b = i
	}
	stop := last - lo
	for {
		// next event after z
		next := stop
		if a+1 < n {
			next = min(next, f.x[a+1]-lo)
		}
		if b+1 < n {
			next = min(next, f.x[b+1]-hi)
		}
		next = max(next, z)
		for head < len(q) && q[head] <= a {
			head++
		}
		if next > z {
			inside := math.Inf(1)
			if head < len(q) {
				inside = h(q[head])
			}
			minOfThree(dst, z, next, line(a, z+lo), line(a, next+lo), line(b, z+hi), line(b, next+hi), inside, c, k)
		} else if len(dst.x) == 0 && next >= stop {
			v := min(line(a, z+lo), line(b, z+hi))
			dst.add(z, c+k*z+v)
		}
		z = next
		if z >= stop {
			break
		}
		moved := false
		if a+1 < n && f.x[a+1]-lo <= z {
			a++
			moved = true
		}
		if b+1 < n && f.x[b+1]-hi <= z {
			b++
			// a push may pop below head: the queue is a plain slice with a moving head
			v := h(b)
			for len(q) > head && h(q[len(q)-1]) >= v {
				q = q[:len(q)-1]
			}
			q = append(q, b)
			moved = true
		}
		if !moved {
			break
		}
	}
	w.queue = q[:0]
	return len(dst.x) > 0
}

// minOfThree adds to dst the least of two lines and a constant on [x0, x1], plus c + k·x.
func minOfThree(dst *piecewise, x0, x1, f0, f1, g0, g1, m, c, k float64) {
	var cuts [3]float64
	nc := 0
	cross := func(a0, a1, b0, b1 float64) {
		if d0, d1 := a0-b0, a1-b1; (d0 < 0 && d1 > 0) || (d0 > 0 && d1 < 0) {
			s := d0 / (d0 - d1)
			if s > 0 && s < 1 {
				cuts[nc] = s
				nc++
			}
		}
	}
	cross(f0, f1, g0, g1)
	if !math.IsInf(m, 1) {
		cross(f0, f1, m, m)
		cross(g0, g1, m, m)
	}
	for a := 1; a < nc; a++ {
		for b := a; b > 0 && cuts[b] < cuts[b-1]; b-- {
			cuts[b], cuts[b-1] = cuts[b-1], cuts[b]
		}
	}
	put := func(s float64) {
		x := x0 + (x1-x0)*s
		v := min(f0+(f1-f0)*s, g0+(g1-g0)*s, m)
		dst.add(x, v+c+k*x)
	}
	put(0)
	for _, s := range cuts[:nc] {
		put(s)
	}
	put(1)
}
