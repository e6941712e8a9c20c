package batch

import "math"

// addOpeningLots adds the lots in stock at slot 0 and returns the least cost over the amount of them that is served.
func (d *lotDP) addOpeningLots(i int) float64 {
	v := d.root
	best := math.Inf(1)
	for _, u := range d.usefulOpening(i) {
		if u.from > v.last() {
			break
		}
		// minimum of u.at(a) + v(a) on the piece
		end := min(u.to, v.last())
		best = min(best, u.at(u.from)+v.at(u.from), u.at(end)+v.at(end))
		for j, x := range v.x {
			if x > u.from && x < end {
				best = min(best, u.at(x)+v.y[j])
			}
		}
	}
	return best
}

// openingPiece is a piece of the cost of unserved opening lots, convex in the grams served.
type openingPiece struct {
	from, to, cost, slope float64 // cost at from
	lot                   int
}

func (u *openingPiece) at(a float64) float64 { return u.cost + u.slope*(a-u.from) }

// usefulOpening serves the opening lots at slot 0 in order of their cost if left, the highest first, as far as demand before
// their expiry allows.
func (d *lotDP) usefulOpening(i int) []openingPiece {
	b := &d.p.bevs[i]
	var at []int
	cost := 0.0
	dead := make([]float64, len(b.opening))
	for n := range b.opening {
		l := &b.opening[n]
		dead[n] = b.leftCost(l) + d.storePrice(l.ready, l.expires)
		switch {
		case l.ready == 0:
			at = append(at, n)
			cost += dead[n] * l.g
		case l.ready >= d.p.slots:
			cost += dead[n] * l.g
		}
	}
	for a := 1; a < len(at); a++ {
		for c := a; c > 0 && dead[at[c]] > dead[at[c-1]]; c-- {
			at[c], at[c-1] = at[c-1], at[c]
		}
	}
	pieces := []openingPiece{{cost: cost, lot: -1}}
	used := make([]float64, len(b.opening))
	total := 0.0
	for _, n := range at {
		room := b.opening[n].g
		for _, m := range at {
			y := b.opening[m].expires
			if y < b.opening[n].expires {
				continue
			}
			sum := 0.0
			for _, o := range at {
				if b.opening[o].expires <= y {
					sum += used[o]
				}
			}
			room = min(room, b.cum[min(y, d.p.slots)]-sum)
		}
		if room <= 0 {
			continue
		}
		used[n] = room
		pieces = append(pieces, openingPiece{from: total, to: total + room, cost: cost, slope: -dead[n], lot: n})
		total += room
		cost -= dead[n] * room
	}
	return pieces
}
