package batch

import (
	"fmt"
	"math"

	"hotday/models"
)

// Limit bounds what batches take together of a supply such as treated water or the beans of a coffee.
type Limit struct {
	Name     string
	From     int       // first slot of the starts that count
	MostG    []float64 // by slot t: the most that the starts of slots From … t may take, g; slots before From are ignored
	PerG     []float64 // taken per gram of each beverage of the instance
	PerBatch float64   // taken by every batch, whatever its size, g
}

// Less takes from the limit what a start of beverage number bev takes.
func (l *Limit) Less(bev int, s Start) {
	if s.StartSlot < l.From {
		return
	}
	for t := s.StartSlot; t < len(l.MostG); t++ {
		l.MostG[t] -= l.PerG[bev]*s.G + l.PerBatch
	}
}

// limitSlack is the rounding error allowed at a limit, g.
const limitSlack = 1e-3

// takes is the supply that a start takes, g.
func (p *problem) takes(l *Limit, s batchStart) float64 {
	return l.PerG[p.opts[s.opt].bev]*s.g + l.PerBatch
}

// takenBySlot sets out to the supply that starts from the limit's first slot up to each slot take, g.
func (p *problem) takenBySlot(l *Limit, starts []batchStart, out []float64) {
	clear(out)
	for _, s := range starts {
		if s.slot >= l.From && s.slot < p.slots {
			out[s.slot] += p.takes(l, s)
		}
	}
	for t := l.From + 1; t < p.slots; t++ {
		out[t] += out[t-1]
	}
}

// overLimit returns the slot at which the starts exceed a limit most, and by how much, g; −1 if they do not.
func (p *problem) overLimit(l *Limit, starts []batchStart) (at int, over float64) {
	at, over = -1, limitSlack
	p.takenBySlot(l, starts, p.taken)
	for t := l.From; t < p.slots; t++ {
		if x := p.taken[t] - l.MostG[t]; x > over {
			at, over = t, x
		}
	}
	return at, over
}

// closeByLimits closes the starts for which even the smallest batch would exceed a limit.
func (p *problem) closeByLimits() {
	room := make([]float64, p.slots)
	for k := range p.limits {
		l := &p.limits[k]
		least := math.Inf(1)
		for t := p.slots - 1; t >= l.From; t-- {
			least = min(least, l.MostG[t])
			room[t] = least
		}
		for i := range p.opts {
			o := &p.opts[i]
			for t := l.From; t < p.slots; t++ {
				if p.takes(l, batchStart{opt: i, g: o.min}) > room[t]+limitSlack {
					o.canStart[t] = false
				}
			}
		}
	}
}

func (p *problem) withinLimits(starts []batchStart) bool {
	for k := range p.limits {
		if at, _ := p.overLimit(&p.limits[k], starts); at >= 0 {
			return false
		}
	}
	return true
}

// limitCost estimates the cost of shrinking the starts to the limits: for each limit the excess at the least that a unit of the supply
// is worth. It is infinite if the smallest batches exceed a limit.
func (p *problem) limitCost(starts []batchStart) float64 {
	worst := 0.0
	for k := range p.limits {
		l := &p.limits[k]
		at, over := p.overLimit(l, starts)
		if at < 0 {
			continue
		}
		least, price := 0.0, math.Inf(1)
		for _, s := range starts {
			if s.slot < l.From || s.slot > at {
				continue
			}
			least += p.takes(l, batchStart{opt: s.opt, g: p.opts[s.opt].min})
			price = min(price, p.worth(l, s))
		}
		if least > l.MostG[at]+limitSlack {
			return math.Inf(1)
		}
		worst = max(worst, over*price)
	}
	return worst
}

// worth is the value of a unit of the supply in a batch, at most: the shortage that it prevents, less the cost of making.
func (p *problem) worth(l *Limit, s batchStart) float64 {
	b := &p.bevs[p.opts[s.opt].bev]
	per := l.PerG[p.opts[s.opt].bev]
	if per <= 0 {
		return math.Inf(1)
	}
	return max(0, b.short-b.unit) / per
}

// repairLimits shrinks or removes the starts that make the least of a supply until the limits hold.
func (p *problem) repairLimits(starts []batchStart) []batchStart {
	for k := range p.limits {
		l := &p.limits[k]
		for at, over := p.overLimit(l, starts); at >= 0; at, over = p.overLimit(l, starts) {
			worst := -1
			for i, s := range starts {
				if s.slot >= l.From && s.slot <= at && p.takes(l, s) > 0 && (worst < 0 || p.lessWorth(l, starts, i, worst)) {
					worst = i
				}
			}
			if worst < 0 {
				return starts
			}
			s := &starts[worst]
			per := l.PerG[p.opts[s.opt].bev]
			if g := s.g - over/max(per, 1e-12); per > 0 && g >= p.opts[s.opt].min {
				s.g = g
			} else {
				starts = append(starts[:worst], starts[worst+1:]...)
			}
		}
	}
	return starts
}

// lessWorth reports whether start i makes less of the supply than start k; of equals, the one closer to the next start of its beverage,
// which can serve some of its demand.
func (p *problem) lessWorth(l *Limit, starts []batchStart, i, k int) bool {
	if a, b := p.worth(l, starts[i]), p.worth(l, starts[k]); a != b {
		return a < b
	}
	return p.gapAfter(starts, i) < p.gapAfter(starts, k)
}

// gapAfter is the number of slots until the next start of the same beverage.
func (p *problem) gapAfter(starts []batchStart, i int) int {
	gap := p.slots
	for k, s := range starts {
		if d := s.slot - starts[i].slot; k != i && p.opts[s.opt].bev == p.opts[starts[i].opt].bev && (d > 0 || d == 0 && k > i) {
			gap = min(gap, d)
		}
	}
	return gap
}

// windowLimits are the limits in slots [from, to), less what fixed starts take.
func (p *problem) windowLimits(fixed []batchStart, from, to int) []Limit {
	var out []Limit
	for k := range p.limits {
		l := p.limits[k]
		p.takenBySlot(&l, fixed, p.taken)
		most := make([]float64, to-from)
		for t := range most {
			if from+t >= l.From {
				most[t] = max(0, l.MostG[from+t]-p.taken[from+t])
			}
		}
		l.From, l.MostG = max(0, l.From-from), most
		if l.From < to-from {
			out = append(out, l)
		}
	}
	return out
}

// limitRows adds a row for each limit that the starts exceed, at its worst slot, and returns the number added.
func (f *fitter) limitRows(starts []batchStart) int {
	n := 0
	for k := range f.p.limits {
		l := &f.p.limits[k]
		at, _ := f.p.overLimit(l, starts)
		if at < 0 {
			continue
		}
		f.clearCoefs()
		rhs := l.MostG[at]
		for i := range f.lots {
			x := &f.lots[i]
			if x.start < 0 {
				continue
			}
			if s := starts[x.start]; s.slot >= l.From && s.slot <= at {
				rhs -= f.p.takes(l, batchStart{opt: s.opt, g: x.minG})
				f.set(x.extra, l.PerG[f.p.opts[s.opt].bev])
			}
		}
		f.lp.addRow(f.coef, rhs, math.Inf(1), f.penalty)
		n++
	}
	return n
}

// exceededLimit returns an error that names the first limit that the starts exceed; nil if they keep to all.
func (p *problem) exceededLimit(starts []batchStart) error {
	for k := range p.limits {
		l := &p.limits[k]
		if at, over := p.overLimit(l, starts); at >= 0 {
			return models.Invalid("/starts", fmt.Sprintf("batches that take at most %g g of %s by slot %d", l.MostG[at], l.Name, at), "take %g g more", over)
		}
	}
	return nil
}

// OverLimit names the first limit that starts of the instance exceed; it is empty if they keep to all, and for starts that are not of
// the instance.
func (in *Instance) OverLimit(starts []Start) string {
	p := compile(in)
	own, err := p.resolve(starts)
	if err != nil {
		return ""
	}
	for k := range p.limits {
		if at, _ := p.overLimit(&p.limits[k], own); at >= 0 {
			return p.limits[k].Name
		}
	}
	return ""
}

func (v *validation) limits(in *Instance) {
	for k := range in.Limits {
		l, p := &in.Limits[k], fmt.Sprintf("/limits/%d", k)
		v.whole(p+"/from", l.From, 0, in.Slots-1)
		v.series(p+"/most_g", l.MostG, in.Slots)
		v.number(p+"/per_batch", l.PerBatch, maxGrams)
		if v.length(p+"/per_g", len(l.PerG), len(in.Beverages), len(in.Beverages)) {
			for i, x := range l.PerG {
				v.number(fmt.Sprintf("%s/per_g/%d", p, i), x, maxGrams)
			}
		}
	}
}
