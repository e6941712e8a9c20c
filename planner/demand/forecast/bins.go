package forecast

import (
	"math"
	"slices"
)

// maxBins is the maximum number of bins per feature.
const maxBins = 48

// bins discretises features at quantiles of their training values, so that trees work on small integers.
type bins struct {
	Cuts [][]float64 // by feature; the bin of a value is the number of cuts below it
}

// newBins makes bins from features stored row by row, width of them per row.
func newBins(x []float64, width int) *bins {
	n := len(x) / width
	b := &bins{Cuts: make([][]float64, width)}
	column := make([]float64, n)
	for f := range width {
		for i := range n {
			column[i] = x[i*width+f]
		}
		slices.Sort(column)
		var cuts []float64
		for k := 1; k < maxBins; k++ {
			i := k * n / maxBins
			if i == 0 || i >= n {
				continue
			}
			if lo, hi := column[i-1], column[i]; lo < hi {
				if cut := between(lo, hi); len(cuts) == 0 || cut > cuts[len(cuts)-1] {
					cuts = append(cuts, cut)
				}
			}
		}
		if len(cuts) == 0 || countDistinct(column) <= maxBins {
			cuts = midpoints(column)
		}
		b.Cuts[f] = cuts
	}
	return b
}

// countDistinct counts the distinct values, up to maxBins+1.
func countDistinct(sorted []float64) int {
	n := 0
	for i, x := range sorted {
		if i == 0 || x != sorted[i-1] {
			n++
		}
		if n > maxBins {
			break
		}
	}
	return n
}

// between returns a value from lo to below hi, which cuts them apart, near the middle and with few binary digits: a state stores many.
func between(lo, hi float64) float64 {
	mid := lo + (hi-lo)/2
	for digits := 7; digits <= 23; digits++ { // of a float32
		cut := math.Float64frombits((math.Float64bits(mid) + 1<<(51-digits)) >> (52 - digits) << (52 - digits))
		if cut >= lo && cut < hi && float64(float32(cut)) == cut {
			return cut
		}
	}
	return mid
}

// midpoints cuts between neighbouring distinct values.
func midpoints(sorted []float64) []float64 {
	var cuts []float64
	for i := 1; i < len(sorted) && len(cuts) < maxBins-1; i++ {
		if sorted[i] > sorted[i-1] {
			cuts = append(cuts, between(sorted[i-1], sorted[i]))
		}
	}
	return cuts
}

// index returns the bin of a value of feature f.
func (b *bins) index(f int, x float64) uint8 {
	cuts := b.Cuts[f]
	lo, hi := 0, len(cuts)
	for lo < hi {
		if mid := (lo + hi) / 2; cuts[mid] >= x {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return uint8(lo)
}

// columns discretises rows into bins, stored feature by feature.
func (b *bins) columns(x []float64) [][]uint8 {
	width := len(b.Cuts)
	n := len(x) / width
	out := make([][]uint8, width)
	flat := make([]uint8, n*width)
	for f := range width {
		out[f] = flat[f*n : (f+1)*n]
		for i := range n {
			out[f][i] = b.index(f, x[i*width+f])
		}
	}
	return out
}
