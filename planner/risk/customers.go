package risk

import (
	"hash/fnv"
	"math"
)

// customers are those of one row in each run. They are whole and arrive at random times: a quarter of an hour with two expected
// often has none, and sometimes five.
type customers struct {
	arrivals    []uint8   // arrivals, by slot of the row, then by run
	perCustomer []float64 // servings per customer, by run: 1 up to maxCustomers
	cumShare    []float64 // cumulative shares of the row
	// guide[g] is the first slot that a uniform draw of at least g/guides can fall in (a guide table for inversion).
	guide [guides]int32
}

const guides = 128

// maxCustomers is the most that arrive individually. In a larger row each stands for several, as arrival times then hardly
// vary.
const maxCustomers = 200

// arrive distributes the servings of each run, given in perCustomer, over the row's slots and sets perCustomer to the servings
// per customer. Draws are keyed by seed, row, run and the customer's number, so that an additional customer does not move the
// others.
func (c *customers) arrive(seed int64, r *Row) {
	n := len(c.perCustomer)
	if k := n * len(r.Share); cap(c.arrivals) < k {
		c.arrivals = make([]uint8, k)
	} else {
		c.arrivals = c.arrivals[:k]
		clear(c.arrivals)
	}
	c.cumShare = c.cumShare[:0]
	sum := 0.0
	for _, x := range r.Share {
		sum += math.Max(0, x)
		c.cumShare = append(c.cumShare, sum)
	}
	t := 0
	for g := range c.guide {
		for t < len(c.cumShare) && c.cumShare[t] <= float64(g)/guides {
			t++
		}
		c.guide[g] = int32(t)
	}
	h := fnv.New64a()
	h.Write([]byte(r.Key))
	base := splitmix(uint64(seed)) ^ h.Sum64()
	for run, x := range c.perCustomer {
		stream := splitmix(base + uint64(run))
		whole := math.Floor(x + uniform(stream)) // randomised rounding keeps the mean
		c.perCustomer[run] = 1
		if x > maxCustomers {
			whole = maxCustomers
			c.perCustomer[run] = x / maxCustomers
		}
		for k := range int(whole) {
			u := uniform(splitmix(stream + uint64(k) + 1))
			t := int(c.guide[int(u*guides)])
			for t < len(c.cumShare) && c.cumShare[t] <= u {
				t++
			}
			if t < len(c.cumShare) {
				c.arrivals[t*n+run]++
			}
		}
	}
}

// at returns the arrivals in a slot of the row, by run.
func (c *customers) at(slot int) []uint8 {
	n := len(c.perCustomer)
	return c.arrivals[slot*n : (slot+1)*n]
}

// splitmix is the output function of splitmix64 (Steele, Lea & Flood 2014): it turns a counter into independent draws.
func splitmix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// uniform maps 64 random bits to a uniform number in [0, 1).
func uniform(x uint64) float64 { return float64(x>>11) / (1 << 53) }
