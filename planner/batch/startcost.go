package batch

import "math"

// startCost is the cost of a start at given prices as a convex function of the grams served from it. Below floor, floor grams
// are made and the rest is never served; above, the marginal cost is slope[m] up to to[m] grams. Beside the plans of other beverages the
// store has room for grams never served only if at least least are served, and the position before the batch is at most before.
type startCost struct {
	base, floor, unserved float64 // base: cost with floor grams made and served; unserved: cost of a gram never served
	least, before         float64
	pieces                int
	to, slope             [maxIceKinks + 2]float64
}

func (d *lotDP) startCost(k, t int) startCost {
	o := &d.p.opts[k]
	b := &d.p.bevs[o.bev]
	ready := t + o.ready
	f := startCost{base: o.fixed + d.q.people[t] + d.busySum[o.brewer][t+o.busy] - d.busySum[o.brewer][t] + d.lotPrice[ready]}
	if d.q.start != nil {
		f.base += d.q.start[k][t]
	}
	slope := b.unit + d.gramPrice[ready] + d.storeSum[ready] - d.storeSum[ready-o.early]
	var kinks []kink
	if s := t + o.iceSlots; d.q.ice != nil && s < d.p.slots && o.icePerG > 0 {
		slope += d.q.ice[s] * o.icePerG
		kinks = d.kinks[s]
	}
	l := lot{ready: ready, expires: ready + b.hold}
	f.unserved = b.leftCost(&l) + d.storePrice(ready, l.expires)
	at := 0.0
	f.floor = -1
	to := func(g, next float64) {
		switch {
		case g <= at:
		case f.floor < 0 && g <= o.min:
			f.base += slope * (g - at)
			at = g
			if g == o.min && (slope+f.unserved > 0 && next+f.unserved > 0 || g == o.max) {
				f.floor = g
			}
		case f.floor < 0:
			f.base += slope * (g - at)
			at = g
			if next+f.unserved > 0 || g == o.max {
				f.floor = g
			}
		default:
			f.to[f.pieces], f.slope[f.pieces] = g, slope
			f.pieces++
			at = g
		}
		slope = next
	}
	n := 0
	for ; n < len(kinks) && kinks[n].g/o.icePerG < o.min; n++ {
		to(kinks[n].g/o.icePerG, slope+kinks[n].price*o.icePerG)
	}
	if o.min > 0 {
		to(o.min, slope)
	} else if slope+f.unserved > 0 {
		f.floor = 0
	}
	for ; n < len(kinks) && kinks[n].g/o.icePerG < o.max; n++ {
		to(kinks[n].g/o.icePerG, slope+kinks[n].price*o.icePerG)
	}
	to(o.max, slope)
	f.before = math.Inf(1)
	if d.residual != nil {
		f.before = b.cum[ready+1] + d.residual.whole[ready] - f.floor
		room := f.floor
		for _, g := range d.residual.whole[ready:min(l.expires, d.p.slots)] {
			room = min(room, g)
		}
		f.least = f.floor - room
	}
	return f
}

// storePrice is the price of a gram kept in the store from its ready slot until it expires.
func (d *lotDP) storePrice(ready, expires int) float64 {
	price := d.storeSum[min(expires, d.p.slots)] - d.storeSum[min(ready, d.p.slots)]
	for _, n := range d.storeCuts {
		if k := &d.pool.cuts[n]; ready < k.from && expires > k.to {
			price += d.q.cut[n]
		}
	}
	return price
}

// grams is the batch size if a grams are served.
func (f *startCost) grams(a float64) float64 { return max(a, f.floor) }

func (f *startCost) cost(a float64) float64 {
	if a <= f.floor {
		return f.base + f.unserved*(f.floor-a)
	}
	c, from := f.base, f.floor
	for m := 0; m < f.pieces; m++ {
		if a <= f.to[m] {
			return c + f.slope[m]*(a-from)
		}
		c += f.slope[m] * (f.to[m] - from)
		from = f.to[m]
	}
	return c
}

// maxG is the largest batch, g.
func (f *startCost) maxG() float64 {
	if f.pieces == 0 {
		return f.floor
	}
	return f.to[f.pieces-1]
}

// dominates reports whether f costs at most as much as other for any grams that other can make. Comparing at the breakpoints is
// enough, as both are piecewise linear.
func (f *startCost) dominates(other *startCost) bool {
	most := other.maxG()
	for _, o := range [2]*startCost{other, f} {
		if a := min(o.floor, most); f.cost(a) > other.cost(a) {
			return false
		}
		for m := 0; m < o.pieces; m++ {
			if a := min(o.to[m], most); f.cost(a) > other.cost(a) {
				return false
			}
		}
	}
	return f.cost(0) <= other.cost(0)
}
