package batch

import (
	"fmt"

	"hotday/models"
)

// WorkUse is the minutes of work that a batch needs in one window of Instance.WorkMin.
type WorkUse struct {
	Window int
	Min    float64
}

// workTol is the rounding allowed when minutes of work are added up.
const workTol = 1e-6

// Short is a shared resource that starts use more of than there is.
type Short int

const (
	Enough     Short = iota
	WorkShort        // Instance.WorkMin
	BathsShort       // Instance.Baths
)

// ShortOf returns the resource that the starts exceed, work first. Starts that no option allows use nothing.
func (in *Instance) ShortOf(starts []Start) Short {
	p := compile(in)
	var known []batchStart
	for _, s := range starts {
		if own, err := p.resolve([]Start{s}); err == nil && s.StartSlot >= 0 && s.StartSlot < p.slots {
			known = append(known, own...)
		}
	}
	return p.shortOf(known, newUsage(p))
}

// usage is the work by window and the baths by slot that starts use; nil where the instance has no limit.
type usage struct {
	work  []float64
	baths []int
}

func newUsage(p *problem) usage {
	var u usage
	if p.work != nil {
		u.work = make([]float64, len(p.work))
	}
	if p.baths != nil {
		u.baths = make([]int, p.slots)
	}
	return u
}

// limited reports whether the problem limits work or baths.
func (p *problem) limited() bool { return p.work != nil || p.baths != nil }

// workOf is the work of a start by window.
func (o *option) workOf(slot int) []WorkUse {
	if o.work == nil {
		return nil
	}
	return o.work[slot]
}

// add adds the use of a start.
func (u *usage) add(p *problem, s batchStart) {
	o := &p.opts[s.opt]
	if u.work != nil {
		for _, w := range o.workOf(s.slot) {
			u.work[w.Window] += w.Min
		}
	}
	if u.baths != nil {
		for t := s.slot + o.bathFrom; t < min(s.slot+o.bathTo, p.slots); t++ {
			u.baths[t]++
		}
	}
}

// shortOf returns the resource that the starts exceed. u is scratch.
func (p *problem) shortOf(starts []batchStart, u usage) Short {
	clear(u.work)
	clear(u.baths)
	for _, s := range starts {
		u.add(p, s)
	}
	for w, m := range u.work {
		if m > p.work[w]+workTol {
			return WorkShort
		}
	}
	for t, n := range u.baths {
		if n > p.baths[t] {
			return BathsShort
		}
	}
	return Enough
}

// leaves reports whether the usage leaves enough for a start of option k.
func (u *usage) leaves(p *problem, k, slot int) bool {
	o := &p.opts[k]
	if u.work != nil {
		uses := o.workOf(slot)
		for k, w := range uses {
			m := u.work[w.Window]
			for _, x := range uses[:k+1] { // a window may be named twice
				if x.Window == w.Window {
					m += x.Min
				}
			}
			if m > p.work[w.Window]+workTol {
				return false
			}
		}
	}
	if u.baths != nil {
		for t := slot + o.bathFrom; t < min(slot+o.bathTo, p.slots); t++ {
			if u.baths[t] >= p.baths[t] {
				return false
			}
		}
	}
	return true
}

// left is the work and the baths that the starts leave.
func (p *problem) left(starts []batchStart) (work []float64, baths []int) {
	u := newUsage(p)
	for _, s := range starts {
		u.add(p, s)
	}
	for w := range u.work {
		u.work[w] = max(0, p.work[w]-u.work[w])
	}
	for t := range u.baths {
		u.baths[t] = max(0, p.baths[t]-u.baths[t])
	}
	return u.work, u.baths
}

// resourceError names the resource that the starts exceed; nil for none.
func (p *problem) resourceError(starts []batchStart) error {
	if !p.limited() {
		return nil
	}
	switch p.shortOf(starts, newUsage(p)) {
	case WorkShort:
		return models.Invalid("/starts", "batches with enough hands in every window", "there is more work than time for it")
	case BathsShort:
		return models.Invalid("/starts", "batches with a free bath", "there are more batches in a bath than baths")
	}
	return nil
}

// resources checks the limits on work and baths.
func (v *validation) resources(in *Instance) {
	if in.Baths != nil && len(in.Baths) != in.Slots {
		v.add("/baths", fmt.Sprintf("a list of %d numbers, one for each slot", in.Slots), "has %d", len(in.Baths))
	}
	v.wholes("/baths", in.Baths, maxBrewers*maxOptions)
	for w, m := range in.WorkMin {
		v.number(fmt.Sprintf("/work_min/%d", w), m, maxGrams)
	}
}

// work checks an option's use of work and baths.
func (v *validation) work(p string, o *Option, slots, windows int) {
	v.whole(p+"/bath_from", o.BathFrom, 0, 100*maxSlots)
	v.whole(p+"/bath_to", o.BathTo, 0, 100*maxSlots)
	if o.Work != nil && len(o.Work) != slots {
		v.add(p+"/work", fmt.Sprintf("a list of %d values, one for each slot", slots), "has %d", len(o.Work))
	}
	for t, uses := range o.Work {
		for k, u := range uses {
			if u.Window < 0 || u.Window >= windows || !(u.Min >= 0 && u.Min <= maxGrams) {
				v.whole(fmt.Sprintf("%s/work/%d/%d/window", p, t, k), u.Window, 0, windows-1)
				v.number(fmt.Sprintf("%s/work/%d/%d/min", p, t, k), u.Min, maxGrams)
			}
		}
	}
}
