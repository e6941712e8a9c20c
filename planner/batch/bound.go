package batch

import "math"

// simpleBound is a lower bound in closed form: every gram of demand is short, comes free from an opening lot, or costs at least
// the cheapest way to make it; leftovers earn at most their credit.
func (p *problem) simpleBound() float64 {
	bound := 0.0
	for i := range p.bevs {
		bound += p.simpleBoundOf(i)
	}
	return bound
}

func (p *problem) simpleBoundOf(i int) float64 {
	b := &p.bevs[i]
	opening, making, gain := 0.0, math.Inf(1), 0.0
	for _, l := range b.opening {
		opening += l.g
	}
	for _, k := range b.opts {
		o := &p.opts[k]
		making = min(making, b.unit+o.fixed/o.max)
		for _, may := range o.canStart {
			if may {
				gain += max(0, o.max*(b.credit-b.unit)-o.fixed)
			}
		}
	}
	return max(0, b.cum[p.slots]-opening)*min(b.short, making) - opening*max(0, b.credit) - gain
}
