package risk

import (
	"hash/fnv"
	"math"
)

// customers are those of one row on each simulated day: whole ones, who come at random moments of the row's time. A quarter of an
// hour in which two are expected often sees none, and sometimes five.
type customers struct {
	came []uint8   // by slot of the row, then by run
	each []float64 // servings of one, by run: 1 where not more than mostCustomers come
	sums []float64 // of the row's shares
	// guide is the first slot in which a draw of at least g/guides may fall.
	guide [guides]int32
}

const guides = 128

// mostCustomers is how many come one by one; of a larger row each stands for several, and the moments hardly vary.
const mostCustomers = 200

// arrive places the servings of each run, which each holds, in the row's slots, and leaves in each what one of those placed
// takes. The draws belong to the seed, the row's key, the run and the customer's number: one more customer moves no other.
func (c *customers) arrive(seed int64, r *Row) {
	n := len(c.each)
	if k := n * len(r.Share); cap(c.came) < k {
		c.came = make([]uint8, k)
	} else {
		c.came = c.came[:k]
		clear(c.came)
	}
	c.sums = c.sums[:0]
	sum := 0.0
	for _, x := range r.Share {
		sum += math.Max(0, x)
		c.sums = append(c.sums, sum)
	}
	t := 0
	for g := range c.guide {
		for t < len(c.sums) && c.sums[t] <= float64(g)/guides {
			t++
		}
		c.guide[g] = int32(t)
	}
	h := fnv.New64a()
	h.Write([]byte(r.Key))
	base := mix(uint64(seed)) ^ h.Sum64()
	for run, x := range c.each {
		stream := mix(base + uint64(run))
		whole := math.Floor(x + unit(stream)) // the mean stays
		c.each[run] = 1
		if x > mostCustomers {
			whole = mostCustomers
			c.each[run] = x / mostCustomers
		}
		for k := range int(whole) {
			u := unit(mix(stream + uint64(k) + 1))
			t := int(c.guide[int(u*guides)])
			for t < len(c.sums) && c.sums[t] <= u {
				t++
			}
			if t < len(c.sums) {
				c.came[t*n+run]++
			}
		}
	}
}

// at is who comes in a slot of the row, by run.
func (c *customers) at(slot int) []uint8 {
	n := len(c.each)
	return c.came[slot*n : (slot+1)*n]
}

// mix scrambles a counter so that each value is a draw of its own (the finaliser of splitmix64, Steele, Lea & Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// unit is a draw in [0, 1).
func unit(x uint64) float64 { return float64(x>>11) / (1 << 53) }
