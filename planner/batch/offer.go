package batch

// offer is what a start costs at given prices by the grams that are useful: convex. Up to bend grams the rest of bend is
// made but never served; from there on a gram costs slope[m] until to[m] grams.
type offer struct {
	base, bend, dead float64 // cost of bend grams, all useful; of a gram that is not
	pieces           int
	to, slope        [mostIceKinks + 2]float64
}

func (d *lotDP) offer(k, t int) offer {
	o := &d.p.opts[k]
	b := &d.p.bevs[o.bev]
	ready := t + o.ready
	f := offer{base: o.fixed + d.q.people[t] + d.busy[o.brewer][t+o.busy] - d.busy[o.brewer][t] + d.comes[ready]}
	if d.q.start != nil {
		f.base += d.q.start[k][t]
	}
	slope := b.unit + d.gram[ready]
	var kinks []kink
	if s := t + o.iceSlots; d.q.ice != nil && s < d.p.slots && o.icePerG > 0 {
		slope += d.q.ice[s] * o.icePerG
		kinks = d.kinks[s]
	}
	l := lot{ready: ready, expires: ready + b.hold}
	f.dead = b.leftCost(&l, d.p.slots) + d.storing(ready, l.expires)
	at := 0.0
	f.bend = -1
	to := func(g, next float64) {
		switch {
		case g <= at:
		case f.bend < 0 && g <= o.min:
			f.base += slope * (g - at)
			at = g
			if g == o.min && (slope+f.dead > 0 && next+f.dead > 0 || g == o.max) {
				f.bend = g
			}
		case f.bend < 0:
			f.base += slope * (g - at)
			at = g
			if next+f.dead > 0 || g == o.max {
				f.bend = g
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
	} else if slope+f.dead > 0 {
		f.bend = 0
	}
	for ; n < len(kinks) && kinks[n].g/o.icePerG < o.max; n++ {
		to(kinks[n].g/o.icePerG, slope+kinks[n].price*o.icePerG)
	}
	to(o.max, slope)
	return f
}

// storing is the price of a gram that stays in the store from its ready slot until it expires.
func (d *lotDP) storing(ready, expires int) float64 {
	price := d.kept[min(expires, d.p.slots)] - d.kept[min(ready, d.p.slots)]
	for _, n := range d.storeCuts {
		if k := &d.pool.cuts[n]; ready < k.from && expires > k.to {
			price += d.q.cut[n]
		}
	}
	return price
}

// grams is what is made when a grams are useful.
func (f *offer) grams(a float64) float64 { return max(a, f.bend) }

func (f *offer) cost(a float64) float64 {
	if a <= f.bend {
		return f.base + f.dead*(f.bend-a)
	}
	c, from := f.base, f.bend
	for m := 0; m < f.pieces; m++ {
		if a <= f.to[m] {
			return c + f.slope[m]*(a-from)
		}
		c += f.slope[m] * (f.to[m] - from)
		from = f.to[m]
	}
	return c
}

// most is the largest batch.
func (f *offer) most() float64 {
	if f.pieces == 0 {
		return f.bend
	}
	return f.to[f.pieces-1]
}

// noDearer says whether any grams that other can make cost no more with f. Both are convex with few bends.
func (f *offer) noDearer(other *offer) bool {
	most := other.most()
	for _, o := range [2]*offer{other, f} {
		if a := min(o.bend, most); f.cost(a) > other.cost(a) {
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
