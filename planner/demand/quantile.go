package demand

// QuantileOf returns a quantile of values, of which there is at least one, and reorders them. It is linear between the values;
// the i-th smallest of n, from 0, is the quantile of level (i + ½)/n.
func QuantileOf(values []float64, level float64) float64 {
	n := len(values)
	x := level*float64(n) - 0.5
	if x <= 0 {
		selectNth(values, 0)
		return values[0]
	}
	i := int(x)
	if i >= n-1 {
		selectNth(values, n-1)
		return values[n-1]
	}
	selectNth(values, i)
	next := values[i+1]
	for _, v := range values[i+2:] {
		next = min(next, v)
	}
	return values[i] + (x-float64(i))*(next-values[i])
}

// Deciles returns the 10 %, 50 % and 90 % quantiles of values as [QuantileOf] does, faster than three calls.
func Deciles(values []float64) (p10, p50, p90 float64) {
	n := len(values)
	if n < 10 {
		return QuantileOf(values, 0.1), QuantileOf(values, 0.5), QuantileOf(values, 0.9)
	}
	lo, hi := int(0.3*float64(n)), int(0.7*float64(n)) // cuts between the parts that hold one quantile each
	selectNth(values, lo)
	selectNth(values[lo:], hi-lo)
	within := func(part []float64, offset int, level float64) float64 {
		return QuantileOf(part, (level*float64(n)-float64(offset))/float64(len(part)))
	}
	return within(values[:lo], 0, 0.1), within(values[lo:hi], lo, 0.5), within(values[hi:], hi, 0.9)
}

// selectNth moves the n-th smallest to index n, smaller values before it and larger ones after it (Hoare's quickselect).
func selectNth(v []float64, n int) {
	lo, hi := 0, len(v)-1
	for lo < hi {
		mid := lo + (hi-lo)/2
		if v[mid] < v[lo] {
			v[mid], v[lo] = v[lo], v[mid]
		}
		if v[hi] < v[lo] {
			v[hi], v[lo] = v[lo], v[hi]
		}
		if v[hi] < v[mid] {
			v[hi], v[mid] = v[mid], v[hi]
		}
		pivot := v[mid]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case n <= j:
			hi = j
		case n >= i:
			lo = i
		default:
			return
		}
	}
}
